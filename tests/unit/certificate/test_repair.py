"""A formula is moved by next to nothing and then holds every limit exactly."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from tests.random_programmes import realistic, small
from tests.unit.solvers.hand import CASES

from reaccord.certificate.repair import repair
from reaccord.certificate.stated import problem_of
from reaccord.certificate.verify import excess_of, value_of
from reaccord.contract import Budget, Programme
from reaccord.solvers.exact import solve


def moved(programme: Programme, amounts: np.ndarray) -> float:
    """Return the largest move over the batch, having checked that the result is exact and uses the same stocks."""
    problem = problem_of(programme)
    found = repair(problem, amounts.tolist())
    assert excess_of(problem, found) == 0
    assert [x > 0 for x in found] == (amounts > 0).tolist()
    return float(np.abs(np.array([float(x) for x in found]) - amounts).max()) / programme.batch_g


@pytest.mark.parametrize("seed", range(60, 120))
def test_random_formulas(seed: int) -> None:
    programme = small(seed)
    answer = solve(programme, Budget(gap=1e-6))
    if answer.amounts is not None:
        assert moved(programme, answer.amounts) < 1e-7


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_by_hand(case) -> None:
    answer = solve(case.programme, Budget(gap=1e-9))
    assert answer.amounts is not None
    moved(case.programme, answer.amounts)
    problem = problem_of(case.programme)
    value = value_of(problem, repair(problem, answer.amounts.tolist()))
    assert abs(value - Fraction(case.squares)) <= Fraction(1, 10**8)


def test_noise_is_taken_out() -> None:
    programme = realistic(30, 28, 0, lines=12)
    answer = solve(programme, Budget(gap=1e-2))
    assert answer.amounts is not None
    noise = np.random.default_rng(1).uniform(-1e-10, 1e-10, len(answer.amounts)) * programme.batch_g
    assert moved(programme, np.where(answer.amounts > 0, answer.amounts + noise, 0.0)) < 1e-6
