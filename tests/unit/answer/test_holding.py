"""What is said to hold a formula back: only that without which a closer one is found."""

from __future__ import annotations

import math

import pytest
from tests.tiny_study import CARRIER, GREEN, RED, tiny

from reaccord.answer.fit import fit
from reaccord.answer.why.again import Again
from reaccord.answer.why.holding import let_go, without
from reaccord.domain.limit_key import LimitKey
from reaccord.programme import state
from reaccord.report.data import limit_rows
from reaccord.report.terminal import fit_text

COST, LINES = LimitKey("cost"), LimitKey("lines")
ON_HAND = LimitKey("on hand", ("Red", "1", "", ""))


def test_a_ceiling_that_keeps_a_dear_bottle_out_holds_back() -> None:
    found = fit(tiny(limits={"cost_per_kg": 20}))
    assert found.holding == {COST: True}
    assert limit_rows(found.judged, found.holding)[0]["holds_back"] is True
    (line,) = (line for line in fit_text(found, 100).splitlines() if line.startswith("cost"))
    assert line.endswith("holds it back")


def test_a_limit_reached_that_costs_nothing_does_not() -> None:
    """Two lines are poured and two are allowed: a third would bring nothing."""
    found = fit(tiny(limits={"cost_per_kg": 20, "lines": 2}))
    assert found.holding == {COST: True, LINES: False}
    (line,) = (line for line in fit_text(found, 100).splitlines() if line.startswith("lines"))
    assert line.endswith("at its limit")


def test_nothing_holds_back_what_is_met() -> None:
    found = fit(tiny(limits={"lines": 2}))
    assert found.holding == {LINES: False}


@pytest.mark.parametrize("measure", ["squares", "absolute", "worst"])
def test_an_empty_bottle_holds_back(measure: str) -> None:
    found = fit(tiny([RED | {"stock_g": "4"}, GREEN], fit={"measure": measure}))
    assert found.holding == {ON_HAND: True}


def test_a_bottle_without_end_makes_its_dilutions_without_end() -> None:
    made = {"strengths": ["10 %"], "carrier": "dipropylene glycol"}
    balance = {"readability_g": 0.01, "minimum_g": 0.5}
    study = tiny([RED | {"stock_g": "4"}, GREEN, CARRIER], dilutions=made, balance=balance)
    loosened = without(study, state(study), ON_HAND)
    most = {
        column: float(grams)
        for column, grams in zip(loosened.columns, loosened.maximum, strict=True)
        if column.startswith("Red")
    }
    assert most["Red"] == math.inf
    diluted = next(stock for stock in study.stocks if stock.key.material == "Red" and stock.recipe is not None)
    assert diluted.recipe is not None
    assert most[diluted.label] == pytest.approx(diluted.recipe.needed_g)


def test_where_time_is_over_nothing_is_claimed() -> None:
    found = fit(tiny(limits={"cost_per_kg": 20}))
    assert found.programme is not None
    none = Again(found.study, found.programme, found.answer, stop=lambda: True)
    assert let_go(none, found.judged.limits) == {}
    assert limit_rows(found.judged, {})[0]["holds_back"] is None
