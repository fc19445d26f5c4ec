"""The vials that are usually smelled: the accord beside the original, at one strength."""

from __future__ import annotations

from reaccord.balance.equal_strength import REFERENCE, Vial, equal_strength
from reaccord.balance.sheet import Sheet

USUAL_STRENGTH, USUAL_VIAL_G = 0.1, 5.0
STEPS = 20
"""Steps of the balance that a vial's sample is at least, where nothing is asked."""


def usual_vials(found: Sheet, strength: float | None = None, vial_g: float | None = None) -> tuple[Vial, ...]:
    """Return the vials to smell beside the original: usually 5 g of 10 %, or weaker if the accord is.

    Raises
    ------
    UsageError
        If the accord is weaker than what is asked, or a vial too small for the balance.
    """
    totals, balance = found.judged.totals, found.study.settings.balance
    step = balance.readability_g if balance else 0.0
    active = 1 - totals.carrier_g / totals.total_g
    wanted = strength or min(USUAL_STRENGTH, active)
    usual = max(USUAL_VIAL_G, STEPS * step / wanted)
    return equal_strength({"accord": active, REFERENCE: 1.0}, wanted, vial_g or usual, step)
