"""The vials that are usually smelled side by side, of one strength: the accord and the original, or two formulas."""

from __future__ import annotations

from collections.abc import Mapping

from reaccord.answer.judge import Judgement
from reaccord.balance.equal_strength import REFERENCE, Vial, equal_strength
from reaccord.balance.sheet import Sheet
from reaccord.domain.study import Study

USUAL_STRENGTH, USUAL_VIAL_G = 0.1, 5.0
ACCORD = "accord"
STEPS = 20
"""Steps of the balance that a vial's sample is at least, where nothing is asked."""


def usual_vials(found: Sheet, strength: float | None = None, vial_g: float | None = None) -> tuple[Vial, ...]:
    """Return the vials to smell beside the original: usually 5 g of 10 %, or weaker if the accord is.

    Raises
    ------
    UsageError
        If the accord is weaker than what is asked, or a vial too small for the balance.
    """
    return side_by_side(found.study, {ACCORD: found.judged, REFERENCE: None}, strength, vial_g)


def side_by_side(
    study: Study, samples: Mapping[str, Judgement | None], strength: float | None = None, vial_g: float | None = None
) -> tuple[Vial, ...]:
    """Return the vials of samples by name, None being the original: usually 5 g of 10 %, or as strong as the weakest.

    Raises
    ------
    UsageError
        If a sample is weaker than what is asked, or a vial too small for the balance.
    """
    step = study.settings.balance.readability_g if study.settings.balance else 0.0
    active = {
        name: 1.0 if judged is None else 1 - judged.totals.carrier_g / judged.totals.total_g
        for name, judged in samples.items()
    }
    wanted = strength or min(USUAL_STRENGTH, *active.values())
    return equal_strength(active, wanted, vial_g or max(USUAL_VIAL_G, STEPS * step / wanted), step)
