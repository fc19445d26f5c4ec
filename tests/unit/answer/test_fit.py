"""A fit's statuses, and that solver, judge and rounding are checked against each other."""

from __future__ import annotations

from dataclasses import replace
from importlib import import_module
from typing import Any

import numpy as np
import pytest
from tests.random_studies import draw
from tests.tiny_study import GREEN, RED, tiny

from reaccord.answer.fit import fit
from reaccord.contract import Answer, Budget, Programme
from reaccord.findings import NoAnswer, NoFormula, SolverFault
from reaccord.solvers.choose import solve

ROOM = import_module("reaccord.answer.fit")
"""The module; `reaccord.answer.fit` is the function of that name."""

BALANCE = {"readability_g": 0.01, "minimum_g": 0.02}


def answering(monkeypatch: pytest.MonkeyPatch, **changes: Any) -> None:
    """Let the solver give another answer than it found."""

    def changed(programme: Programme, budget: Budget) -> Answer:
        return replace(solve(programme, budget), **changes)

    monkeypatch.setattr(ROOM, "solve", changed)


def test_proven() -> None:
    found = fit(tiny(balance=BALANCE))
    assert found.answer.status == "proven"
    assert {key.material: grams for key, grams in found.amounts.items()} == {"Red": 6.0, "Green": 4.0}
    assert found.judged.closeness.value == pytest.approx(0, abs=1e-12)
    assert (found.bound, found.gap) == (pytest.approx(0, abs=1e-9), 0.0)


@pytest.mark.parametrize("measure", ["squares", "absolute", "worst"])
def test_every_measure_has_a_door(measure: str) -> None:
    found = fit(tiny([RED | {"stock_g": "4.5"}, GREEN], fit={"measure": measure, "scale": "equal"}, balance=BALANCE))
    assert {key.material: grams for key, grams in found.unrounded.items()} == pytest.approx({"Red": 4.5, "Green": 5.5})
    assert found.answer.status == "proven"
    expected = {"squares": 2 * 0.15**2, "absolute": 0.3, "worst": 0.15}[measure]
    assert found.judged_before.closeness.value == pytest.approx(expected)
    assert found.bound == pytest.approx(expected, rel=1e-3)


def test_infeasible() -> None:
    with pytest.raises(NoFormula, match=r"cost at most 5\.00 per kg") as caught:
        fit(tiny(limits={"cost_per_kg": 5}))
    assert (caught.value.exit_code, caught.value.status) == (4, "infeasible")


def test_no_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    answering(monkeypatch, status="no_answer", amounts=None)
    with pytest.raises(NoAnswer, match="longer --seconds") as caught:
        fit(tiny(), Budget(seconds=60))
    assert (caught.value.exit_code, caught.value.status) == (6, "no_answer")
    with pytest.raises(NoAnswer, match="without a proof that there is none"):
        fit(tiny())


def test_stopped_with_a_formula_in_hand_is_feasible() -> None:
    """A stop after the first formulas leaves a formula that holds all limits and a true bound."""
    asked = 0

    def stop() -> bool:
        nonlocal asked
        asked += 1
        return asked > 8

    statuses = set()
    for seed in range(1100, 1125):
        asked = 0
        try:
            found = fit(draw(seed, measure="squares").study(), Budget(gap=1e-9, stop=stop))
        except (NoFormula, NoAnswer):
            continue
        statuses.add(found.answer.status)
        assert not found.judged.broken
        assert found.bound <= found.judged_before.closeness.value
    assert "feasible" in statuses


def test_what_ended_a_search_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    assert fit(tiny()).ended == ""
    answering(monkeypatch, status="feasible", seconds=3.0)
    assert fit(tiny()).ended == ""
    assert fit(tiny(), Budget(seconds=3.0)).ended == "time"
    assert fit(tiny(), Budget(stop=lambda: True)).ended == "interrupted"


def test_a_solver_whose_figure_is_wrong_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    answering(monkeypatch, value=0.5)
    with pytest.raises(SolverFault, match="the judge finds"):
        fit(tiny())


def test_a_bound_above_the_value_is_cut_to_it(monkeypatch: pytest.MonkeyPatch) -> None:
    study = tiny([RED | {"stock_g": "4.5"}, GREEN])
    answering(monkeypatch, bound=99.0)
    found = fit(study)
    assert found.bound == found.judged_before.closeness.value


def test_a_rounded_formula_that_breaks_a_limit_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    study = tiny([RED | {"stock_g": "5"}, GREEN], balance=BALANCE)
    monkeypatch.setattr(ROOM, "closest_on_grid", lambda *_: np.array([4.0, 6.0]))
    with pytest.raises(SolverFault, match="Red: on hand"):
        fit(study)


def test_frames_hold_the_formula_and_the_residuals() -> None:
    found = fit(tiny(balance=BALANCE))
    assert list(found.formula["material"]) == ["Green", "Red"]
    assert list(found.formula["grams"]) == [4.0, 6.0]
    assert {"constituent", "target", "achieved", "residual", "scaled", "reason"} <= set(found.residuals.columns)
    assert list(found.residuals["constituent"]) == ["green", "red", "undeclared"]


def test_what_binds_before_rounding_is_binding_after() -> None:
    study = tiny(limits={"cost_per_kg": 20.3333}, balance=BALANCE)
    found = fit(study)
    cost = next(state for state in found.judged.limits if state.label == "cost")
    assert cost.binding
    assert cost.value <= 20.3333
