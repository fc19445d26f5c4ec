"""What HiGHS is handed and what is made of its words, on programmes solved by hand."""

from __future__ import annotations

import math
import subprocess
import sys

import highspy
import numpy as np
import pytest
from scipy import sparse

from reaccord.findings import SolverFault
from reaccord.solvers import highs
from reaccord.solvers.highs import Linear, Loaded, Told, by_rows, entries, solve

INF = math.inf


def knapsack(**changes: object) -> Linear:
    """Return: least `-5 a - 4 b` of whole a, b in 0..3 with `6 a + 5 b <= 10`: a = 0, b = 2 gives -8."""
    parts: dict[str, object] = {
        "cost": np.array([-5.0, -4.0]),
        "lower": np.zeros(2),
        "upper": np.full(2, 3.0),
        "rows": np.array([[6.0, 5.0]]),
        "least": np.array([-INF]),
        "most": np.array([10.0]),
        "whole": np.array([True, True]),
    }
    return Linear(**{**parts, **changes})  # type: ignore[arg-type]


def test_whole_columns() -> None:
    said = solve(knapsack())
    assert said.ended == "optimal"
    assert said.columns == pytest.approx([0.0, 2.0])
    assert said.value == said.bound == pytest.approx(-8.0)


def test_duals_are_what_one_more_of_a_row_costs() -> None:
    said = solve(knapsack(whole=None))  # continuous: a = 10/6, a unit of the row is worth 5/6
    assert said.value == pytest.approx(-50 / 6)
    assert said.duals == pytest.approx([-5 / 6])


def test_dense_and_sparse_rows_are_the_same() -> None:
    rows = np.array([[0.0, 5.0], [0.0, 0.0], [6.0, 0.0]])
    ends = {"least": np.full(3, -INF), "most": np.array([10.0, 1.0, 6.0])}
    dense, thin = (solve(knapsack(rows=form, **ends)) for form in (rows, sparse.csr_array(rows)))
    assert dense.columns == pytest.approx([1.0, 2.0])
    assert thin.columns == pytest.approx([1.0, 2.0])


@pytest.mark.parametrize("whole", [None, np.array([True, True])])
def test_nothing_holds(whole: np.ndarray | None) -> None:
    said = solve(knapsack(whole=whole, cost=np.zeros(2), least=np.array([50.0]), most=np.array([INF])))
    assert said.ended == "infeasible"
    assert said.columns is None
    assert said.value == INF


def test_no_end_is_not_called_infeasible() -> None:
    said = solve(knapsack(whole=None, upper=np.full(2, INF), most=np.array([INF])))
    assert said.ended == "failed"
    assert said.columns is None


def test_an_option_it_does_not_know_is_said() -> None:
    with pytest.raises(SolverFault, match="patience"):
        solve(knapsack(), patience=3)


def test_start_and_stop() -> None:
    generator = np.random.default_rng(1)
    many = Linear(
        cost=-generator.integers(10, 100, 60).astype(float),
        lower=np.zeros(60),
        upper=np.ones(60),
        rows=generator.integers(10, 100, (20, 60)).astype(float),
        least=np.full(20, -INF),
        most=np.full(20, 600.0),
        whole=np.ones(60, dtype=bool),
    )
    first = np.zeros(60)
    first[0] = 1.0
    said = solve(many, Told(stop=lambda: True, start=first))
    assert said.ended == "stopped"
    assert said.columns is not None
    assert said.value <= many.cost[0]
    assert said.bound < said.value


def test_it_prints_nothing() -> None:
    code = (
        "import numpy as np; from reaccord.solvers.highs import Linear, solve; one = np.ones(1);"
        "solve(Linear(one, 0 * one, one, np.ones((1, 1)), one, one, one > 0))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == done.stderr == ""


def test_another_library_may_have_asked_highs_with_more_threads() -> None:
    """As cvxpy does in the same process: its threads are there already, and HiGHS refuses to be one of fewer."""
    other = highspy.Highs()
    other.setOptionValue("output_flag", False)
    other.resetGlobalScheduler(True)
    other.setOptionValue("threads", 2)
    column = other.addVariable(0, 3, -1, highspy.HighsVarType.kInteger)
    other.addConstr(column <= 2.5)
    assert other.run().name == "kOk"
    assert solve(knapsack()).ended == "optimal"
    assert Loaded(knapsack(whole=None)).solve().ended == "optimal"


def loaded() -> Loaded:
    """Return in HiGHS: least `a + b` of a, b in 0..3 with `a + b >= 2` and `a - b <= 1`."""
    rows = by_rows([entries(np.array([[1.0, 1.0], [1.0, -1.0]]))], 2)
    return Loaded(Linear(np.ones(2), np.zeros(2), np.full(2, 3.0), rows, np.array([2.0, -INF]), np.array([INF, 1.0])))


def test_nothing_between_other_ends_is_proven_by_multipliers(monkeypatch: pytest.MonkeyPatch) -> None:
    kept = loaded()
    both = np.arange(2)
    assert kept.between(both, np.zeros(2), np.array([3.0, 0.4])) == (None, INF)  # a is 1.4 at most, 0.2 is missing
    assert kept._none_left()
    found = kept.between(both, np.zeros(2), np.array([3.0, 0.6]))
    assert found is not None
    assert found[1] == pytest.approx(2.0)
    assert not kept._none_left()
    unproven = kept.between(both, np.array([2.0, 0.0]), np.array([3.0, 0.5]))  # asked anew it says the same
    monkeypatch.setattr(Loaded, "_none_left", lambda _: False)
    assert kept.between(both, np.array([2.0, 0.0]), np.array([3.0, 0.5])) == unproven == (None, INF)


def test_what_it_takes_for_nothing_without_a_proof_is_asked_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    kept = loaded()
    words = ["infeasible", "optimal"]
    monkeypatch.setattr(highs, "_ended", lambda *_: words.pop(0))
    found = kept.between(np.arange(2), np.zeros(2), np.full(2, 3.0))
    assert found is not None
    assert found[1] == pytest.approx(2.0)
    assert not words
