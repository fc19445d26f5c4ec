"""The readable statement: by hand, by its three solvers, and what it does when a solver is wrong."""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest
from tests.random_programmes import realistic, small
from tests.seeds import drawn
from tests.unit.solvers.hand import CASES, IMPOSSIBLE, Case, singles

from reaccord.contract import Budget, Measure
from reaccord.findings import SolverFault
from reaccord.solvers import linear, reference
from reaccord.solvers.cvxpy_runs import MissingSolver
from reaccord.solvers.switching import per_batch, switches_of

pytest.importorskip("pyscipopt", reason="SCIP comes with the extra `test`")

MEASURES: tuple[Measure, ...] = get_args(Measure)
FINE = Budget(gap=1e-6)


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_value_known_by_hand_is_reached_and_proven(case: Case, measure: Measure) -> None:
    programme = case.by(measure)
    answer = reference.solve(programme, FINE)
    assert answer.status == "proven"
    assert answer.value == pytest.approx(case.value(measure), rel=1e-6, abs=1e-9)
    assert answer.amounts is not None
    assert answer.value == programme.value(answer.amounts)
    assert answer.bound <= answer.value
    assert programme.excess(answer.amounts) <= 1e-7


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("case", IMPOSSIBLE, ids=lambda case: case.name)
def test_what_cannot_be_done_is_said(case: Case, measure: Measure) -> None:
    answer = reference.solve(case.by(measure), FINE)
    assert answer.status == "infeasible"
    assert answer.amounts is None
    assert answer.value == answer.bound == math.inf


@pytest.mark.parametrize(
    ("minimum", "measure", "solver"),
    [
        (0.0, "squares", "reference, Clarabel"),
        (0.0, "worst", "reference, HiGHS"),
        (1.0, "squares", "reference, SCIP"),
        (1.0, "absolute", "reference, SCIP"),
    ],
)
def test_switches_only_where_something_is_switched(minimum: float, measure: Measure, solver: str) -> None:
    answer = reference.solve(replace(singles([0.7, 0.3], minimum), measure=measure), FINE)
    assert answer.solver == solver
    assert "cvxpy" in answer.libraries


def test_off_is_exactly_zero_and_a_minimum_exactly_kept() -> None:
    answer = reference.solve(singles([0.91, 0.06, 0.03], [0.0, 1.0, 1.0]), FINE)
    assert answer.amounts is not None
    assert answer.amounts[2] == 0.0
    assert answer.amounts[1] >= 1.0


@pytest.mark.parametrize("measure", ["absolute", "worst"])
@pytest.mark.parametrize("part", drawn(range(8), range(8, 25)), ids=str)
def test_linear_measures_agree_with_the_linear_door(part: range, measure: Measure) -> None:
    for seed in part:
        programme = replace(small(seed), measure=measure)
        one, other = reference.solve(programme, FINE), linear.solve(programme, FINE)
        assert one.status == other.status
        assert one.value == pytest.approx(other.value, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("part", drawn(range(6), range(6, 15)), ids=str)
def test_bound_of_the_tangent_holds_without_switches(part: range) -> None:
    for seed in part:
        programme = replace(small(seed), minimum=np.zeros(len(small(seed).columns)), limits=(), strengths=())
        answer = reference.solve(programme, FINE)
        assert answer.status == "proven"
        assert answer.bound <= answer.value
        # no formula the other door finds is below it: the measure's own square is at least the worst's
        worst = linear.solve(replace(programme, measure="worst"), FINE)
        assert worst.amounts is not None
        assert answer.bound <= programme.value(worst.amounts)


def test_missing_scip_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyscipopt", None)
    with pytest.raises(MissingSolver, match=r"pip install 'reaccord\[test\]'"):
        reference.solve(singles([0.5, 0.5], 1.0), FINE)
    assert reference.solve(singles([0.5, 0.5]), FINE).status == "proven"


def test_interrupt_and_no_time_give_no_answer() -> None:
    assert reference.solve(singles([0.5, 0.5], 1.0), Budget(stop=lambda: True)).status == "no_answer"
    programme = realistic(60, 60, 1, lines=12)
    answer = reference.solve(programme, Budget(gap=1e-9, seconds=1.0))
    assert answer.status in ("no_answer", "feasible")
    assert answer.bound >= 0.0
    if answer.amounts is not None:
        assert programme.excess(answer.amounts) <= 1e-7


class WrongScip:
    """SCIP as it is where its presolve goes wrong: nothing feasible."""

    def getStatus(self) -> str:  # noqa: N802
        return "infeasible"

    def getDualbound(self) -> float:  # noqa: N802
        return 1e20

    def getNTotalNodes(self) -> int:  # noqa: N802
        return 1


def test_false_impossible_is_not_believed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reference, "run_scip", lambda *_: WrongScip())
    with pytest.raises(SolverFault, match="HiGHS does"):
        reference.solve(singles([0.5, 0.5], 1.0), FINE)


def test_statement_reads_the_programme() -> None:
    programme = per_batch(CASES[5].programme)  # two strengths, a minimum, a carrier cap
    said = reference.statement(programme, switches_of(programme))
    assert said.problem.is_dcp()
    assert said.problem.is_mixed_integer()
    said.amounts.value = np.array([0.96, 0.0, 0.4])
    said.scaled.value = programme.scaled_residuals(said.amounts.value)
    assert said.problem.objective.value == pytest.approx(2 * 0.01**2)


def test_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    for seed in range(10):
        reference.solve(small(seed), FINE)
    assert capfd.readouterr() == ("", "")
