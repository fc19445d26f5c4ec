"""Nothing a solver says is passed on unchecked."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.unit.solvers.hand import limited, singles

from reaccord.contract import Budget
from reaccord.findings import SolverFault
from reaccord.solvers.verdict import DOUBT, Found, verdict

PROGRAMME = limited(singles([0.6, 0.4]), 1.0, used=[1.0, 1.0])
BEST = np.array([10.0, 0.0])  # 2 * 0.4 ** 2


def judged(found: Found, gap: float = 1e-3) -> tuple[str, float, float]:
    answer = verdict(PROGRAMME, Budget(gap=gap).running(), found)
    return answer.status, answer.value, answer.bound


def test_value_is_recomputed_and_proof_follows_from_the_bound() -> None:
    assert judged(Found("s", "1", BEST, 0.32)) == ("proven", pytest.approx(0.32), pytest.approx(0.32 * (1 - DOUBT)))
    assert judged(Found("s", "1", BEST, 0.30))[0] == "feasible"
    assert judged(Found("s", "1", BEST, 0.32), gap=1e-8)[0] == "feasible"


def test_bound_above_a_formula_is_worth_nothing() -> None:
    assert judged(Found("s", "1", BEST, 0.33)) == ("feasible", pytest.approx(0.32), 0.0)


def test_all_zeros_at_a_time_limit_are_a_fault() -> None:
    with pytest.raises(SolverFault, match="break a limit"):
        judged(Found("s", "1", np.zeros(2), 0.1))
    with pytest.raises(SolverFault, match="break a limit"):
        judged(Found("s", "1", np.array([6.0, 4.0]), 0.0))


def test_without_a_formula() -> None:
    assert judged(Found("s", "1", None, 0.1)) == ("no_answer", math.inf, pytest.approx(0.1))
    assert judged(Found("s", "1", None, -5.0)) == ("no_answer", math.inf, 0.0)
    assert judged(Found("s", "1", infeasible=True)) == ("infeasible", math.inf, math.inf)
