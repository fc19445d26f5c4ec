"""A little closeness for a shorter formula: what is given up, what is kept, what is told."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.random_studies import draw
from tests.tiny_study import GREEN, RED, tiny

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.answer.shorten import allowed, shorter_than
from reaccord.contract import NEARLY_ZERO
from reaccord.findings import NoAnswer, NoFormula
from reaccord.programme import state
from reaccord.report.data import fit_data
from reaccord.report.verdict import shorter_text, verdict_text
from reaccord.study.load import Study

BLUE = {"material": "Blue", "constituent": "blue", "purity": "100", "price_per_kg": "20"}
ROWS = {"red": "60", "green": "39.8", "blue": "0.1", "white": "0.1"}
BALANCE = {"readability_g": 0.001}


def little(shorten: str | int = "0.5 %", **sections: Any) -> Study:
    """Return a study in which blue is worth a little beside green, of which there is too little."""
    green = GREEN | {"stock_g": "2"}
    settings = {"shorten": shorten, "scale": "equal"}
    return tiny([RED, green, BLUE], rows=ROWS, fit=settings, **({"balance": BALANCE} | sections))


def names(found: Fit) -> list[str]:
    return [key.material for key in found.amounts]


def test_a_line_that_is_worth_little_is_left_out_and_said() -> None:
    whole, short = fit(little(0)), fit(little("60 %"))
    assert (names(whole), names(short)) == (["Blue", "Green", "Red"], ["Green", "Red"])
    assert short.shorter is not None
    assert (short.bound, short.gap, short.answer.status) == (whole.bound, whole.gap, whole.answer.status)
    assert short.judged_before == whole.judged_before
    assert shorter_text(whole) == []
    (line,) = shorter_text(short)
    closer = 1 - short.judged_before.closeness.value / short.shorter.closeness.value
    assert line.startswith("The closest of all needs 3 lines and is ")
    assert line.endswith(f"{closer * 100:.2g} % closer.")
    assert f"nothing more than {closer * 100:.2g} % closer" in verdict_text(short)


def test_both_are_in_the_data() -> None:
    data = fit_data(fit(little("60 %")))["deviation"]
    assert data["shortened"]["allowed"] == 0.6
    assert (data["shortened"]["lines"], data["shortened"]["closest"]["lines"]) == (2, 3)
    assert data["shortened"]["closest"]["value"] == data["before_rounding"] < data["shortened"]["value"]
    assert fit_data(fit(little(0)))["deviation"]["shortened"] is None


def test_off_is_off() -> None:
    assert fit(little("60 %"), shorten=False).shorter is None
    study = little()
    programme = state(study)
    amounts = fit(study, shorten=False).answer.amounts
    assert amounts is not None
    assert shorter_than(programme, amounts, 0.0) is None


def test_no_more_than_is_allowed_is_given_up() -> None:
    assert fit(little("1 %")).shorter is None


def test_a_must_have_stays() -> None:
    found = fit(little("60 %", limits={"amount": [{"material": "Blue", "at_least_g": 0.005}]}))
    assert "Blue" in names(found)


def test_a_deviation_of_nothing_gives_nothing_up() -> None:
    found = fit(tiny(fit={"shorten": "50 %"}, balance=BALANCE))
    assert found.shorter is None
    assert len(found.amounts) == 2
    assert allowed(0.0, 0.5) == NEARLY_ZERO


@pytest.mark.parametrize("measure", ["squares", "absolute", "worst"])
def test_a_longer_formula_is_shortened_by_every_measure(measure: str) -> None:
    """With much given up, drawn studies come to fewer lines, and none breaks a limit."""
    shorter = 0
    for seed in (301, 306, 309, 312):
        draft = draw(seed, measure=measure)
        draft.settings["fit"]["shorten"] = "50 %"
        try:
            found = fit(draft.study())
        except (NoFormula, NoAnswer):
            continue
        assert not found.judged.broken
        shorter += found.shorter is not None
    assert shorter


def test_twice_the_same() -> None:
    study = little("60 %")
    assert np.array_equal(list(fit(study).amounts.values()), list(fit(study).amounts.values()))
