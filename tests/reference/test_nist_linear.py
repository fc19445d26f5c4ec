"""Certified least squares through the programme's contract: correct digits of coefficients and of the sum of squares.

Outside check: NIST Statistical Reference Datasets, linear regression (see `nist_linear`). A regression has free signs
and no batch; a programme has amounts that are never negative, contents that are never negative and a batch. So:

* every column is divided by its length, the observations by theirs;
* coefficient j is `amount_j - offset`, one offset for all, a power of two at least twice the largest coefficient
  (only the size of the answer is told, not the answer);
* a last column is filler. All amounts add up to the batch, so that a constant added to every content adds the same to
  every row: it makes the contents nonnegative and moves the shares along.

Digits are minus the common logarithm of the relative error, the worst coefficient of a set, at most 15. Some are lost
on the way in: offset and filler add numbers of one size to columns that nearly cancel. The exact search works on
normal equations, so that it loses the square of the condition (scaled columns): Longley 4e4, Wampler 2e3.
In Wampler4 the noise is 1e5 of the coefficients' size. Filip (5e9, squared 3e19) is beyond double precision by this
road: there it is required that nothing false is claimed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pytest
from tests.reference.nist_linear import SETS, Regression

from reaccord.contract import NEARLY_ZERO, Answer, Budget, FloatArray, Programme
from reaccord.findings import SolverFault
from reaccord.solvers import exact, reference

Solver = Callable[[Programme, Budget], Answer]
DOORS: dict[str, Solver] = {"exact": exact.solve, "reference": reference.solve}
DIGITS = {
    "Norris": 9,
    "Pontius": 8,
    "NoInt1": 12,
    "NoInt2": 12,
    "Longley": 5,
    "Wampler1": 4,
    "Wampler2": 6,
    "Wampler3": 4,
    "Wampler4": 3,
}
"""Digits that must be right by either door; what they reach is printed with `-s`."""
BEYOND = "Filip"
BUDGET = Budget(gap=1e-4, seconds=30)


class Stated(NamedTuple):
    """A regression as a programme; `unit`: its deviation is this many times smaller than the sum of squares."""

    programme: Programme
    offset: float
    lengths: FloatArray
    unit: float

    def coefficients(self, amounts: FloatArray) -> FloatArray:
        found: FloatArray = (amounts[:-1] - self.offset) / self.lengths
        return found


def stated(given: Regression) -> Stated:
    size = float(np.linalg.norm(given.observed))
    lengths = np.linalg.norm(given.design, axis=0)
    columns = np.hstack([given.design / lengths, np.zeros((len(given.design), 1))])
    lengths = lengths / size
    offset = 2.0 ** math.ceil(math.log2(2 * np.abs(given.certified * lengths).max()))
    lifted = columns + max(0.0, -float(columns.min()))
    count = lifted.shape[1]
    batch = 2 * offset * (count - 1)
    share = (given.observed / size + offset * columns.sum(axis=1)) / batch + max(0.0, -float(columns.min()))
    unit = max(given.squares, 1e-12 * size**2)  # so that the deviation is 1, or that of an exact fit under 1e-9
    programme = Programme(
        columns=(*(f"column {j}" for j in range(count - 1)), "filler"),
        rows=tuple(f"observation {k}" for k in range(len(share))),
        content=lifted,
        low=share,
        high=share,
        factor=np.full(len(share), batch * size / math.sqrt(unit)),
        basis=np.ones(count),
        batch_g=batch,
        minimum=np.zeros(count),
        maximum=np.full(count, np.inf),
    )
    return Stated(programme, offset, lengths, unit)


def digits(found: FloatArray | float, certified: FloatArray | float) -> float:
    """Return the correct digits of the worst figure."""
    apart = np.max(np.abs(np.asarray(found) - certified) / np.abs(certified))
    return min(15.0, -math.log10(max(float(apart), 1e-300)))


@pytest.mark.parametrize("door", DOORS)
@pytest.mark.parametrize("given", [s for s in SETS if s.name in DIGITS], ids=lambda given: given.name)
def test_digits_of_certified_regressions(given: Regression, door: str) -> None:
    put = stated(given)
    answer = DOORS[door](put.programme, BUDGET)
    assert answer.amounts is not None
    right = digits(put.coefficients(answer.amounts), given.certified)
    squares = digits(answer.value * put.unit, given.squares) if given.squares else math.nan
    report = f"{given.name}, {door}: {right:.1f} digits of the coefficients, {squares:.1f} of the sum of squares"
    print(report)
    assert right >= DIGITS[given.name], report
    if given.squares:
        assert squares >= 8, report
        assert answer.bound <= given.squares / put.unit * (1 + 1e-9), report
    else:
        assert answer.value <= NEARLY_ZERO, report


@pytest.mark.parametrize("door", DOORS)
def test_a_design_beyond_double_precision_is_not_answered_falsely(door: str) -> None:
    given = next(s for s in SETS if s.name == BEYOND)
    put = stated(given)
    best = given.squares / put.unit
    try:
        answer = DOORS[door](put.programme, BUDGET)
    except SolverFault as fault:
        print(f"{given.name}, {door}: {fault}")
        return
    print(f"{given.name}, {door}: {answer.status}, {answer.value / best:.6g} times the certified sum of squares")
    assert answer.status in ("no_answer", "feasible", "proven")
    assert answer.bound <= best * (1 + 1e-6)
    if answer.status == "proven":
        assert answer.value <= best * (1 + 2 * BUDGET.gap)
