"""The exact search against every choice of columns, each solved by another solver (Clarabel).

Outside check: enumeration needs no relaxation, no bound and no branching, and Clarabel is an interior-point solver
that shares nothing with the search's active-set one.
"""

from __future__ import annotations

import itertools
import math

import clarabel
import numpy as np
import pytest
from scipy import sparse
from tests.random_programmes import banded, small
from tests.seeds import seeds
from tests.whole_search import whole_search

from reaccord.contract import Answer, Budget, FloatArray, Programme
from reaccord.solvers.exact import solve

GAP = 1e-8
SOLVED = ("Solved", "AlmostSolved")
HOPELESS = ("PrimalInfeasible", "AlmostPrimalInfeasible")


def possible(programme: Programme, columns: tuple[int, ...]) -> bool:
    """Return whether a choice of columns passes what can be seen without amounts."""
    chosen = set(columns)
    for strengths in programme.strengths:
        if sum(bool(chosen & set(strength)) for strength in strengths) > 1:
            return False
    used = np.isin(np.arange(len(programme.columns)), columns).astype(float)
    counted = [row for row in programme.limits if not row.amounts.any()]
    return all(float(row.used @ used) <= row.most + 1e-9 for row in counted)


def best_amounts(programme: Programme, columns: tuple[int, ...]) -> FloatArray | None:
    """Return the best amounts (n,) with exactly these columns at their minima or more, by Clarabel."""
    chosen = list(columns)
    content = (programme.factor[:, None] * programme.content)[:, chosen]
    low, high = programme.factor * programme.low, programme.factor * programme.high
    count, rows = len(chosen), len(low)
    # variables: amounts over the batch, and a value within its band for every row
    square = np.block([[content.T @ content, -content.T], [-content, np.eye(rows)]])
    used = np.ones(count)
    limits = [
        (row.amounts[chosen] * programme.batch_g, row.most - float(row.used[chosen] @ used))
        for row in programme.limits
        if row.amounts[chosen].any() or row.most - float(row.used[chosen] @ used) < -1e-9
    ]
    sizes = [max(float(np.abs(amounts).max()), 1e-12) for amounts, _ in limits]
    minimum, maximum = programme.minimum[chosen] / programme.batch_g, programme.maximum[chosen] / programme.batch_g
    finite = np.isfinite(maximum)
    matrix = np.vstack([
        np.append(programme.basis[chosen], np.zeros(rows)),
        *(np.append(amounts / size, np.zeros(rows)) for (amounts, _), size in zip(limits, sizes, strict=True)),
        np.hstack([-np.eye(count), np.zeros((count, rows))]),
        np.hstack([np.eye(count)[finite], np.zeros((int(finite.sum()), rows))]),
        np.hstack([np.zeros((rows, count)), -np.eye(rows)]),
        np.hstack([np.zeros((rows, count)), np.eye(rows)]),
    ])  # fmt: skip
    right = np.concatenate([
        [1.0], [most / size for (_, most), size in zip(limits, sizes, strict=True)],
        -minimum, maximum[finite], -low, high,
    ])  # fmt: skip
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = 1e-11
    cones = [clarabel.ZeroConeT(1), clarabel.NonnegativeConeT(len(right) - 1)]
    answer = clarabel.DefaultSolver(
        sparse.csc_matrix(np.triu(2.0 * square)), np.zeros(count + rows), sparse.csc_matrix(matrix), right, cones,
        settings,
    ).solve()  # fmt: skip
    status = str(answer.status)
    if status in HOPELESS:
        return None
    amounts = np.zeros(len(programme.columns))
    amounts[chosen] = np.clip(np.array(answer.x[:count]), minimum, maximum) * programme.batch_g
    if programme.excess(amounts) > 1e-7:
        assert status not in SOLVED or programme.excess(amounts) < 1e-4, f"{status}: {programme.excess(amounts)}"
        return None
    return amounts


def brute_force(programme: Programme) -> float:
    """Return the least value over every choice of columns, infinite if none is possible."""
    least = math.inf
    n = len(programme.columns)
    for size in range(1, n + 1):
        for columns in itertools.combinations(range(n), size):
            if float((programme.basis * programme.minimum)[list(columns)].sum()) > programme.batch_g * (1 + 1e-9):
                continue
            if possible(programme, columns):
                amounts = best_amounts(programme, columns)
                if amounts is not None:
                    least = min(least, programme.value(amounts))
    return least


@seeds(0, 20, 60)
def test_same_optimum_as_every_choice_of_columns(seed: int) -> None:
    same_optimum(small(seed))


@seeds(600, 615, 720)
def test_same_optimum_with_bands(seed: int) -> None:
    same_optimum(banded(seed))


def same_optimum(programme: Programme) -> None:
    least = brute_force(programme)
    for door in (solve, whole_search):
        same_as(least, programme, door(programme, Budget(gap=GAP)))


def same_as(least: float, programme: Programme, answer: Answer) -> None:
    if math.isinf(least):
        assert answer.status == "infeasible"
        return
    assert answer.status == "proven"
    assert answer.amounts is not None
    assert programme.excess(answer.amounts) <= 1e-9
    assert answer.value == programme.value(answer.amounts)
    assert answer.value == pytest.approx(least, rel=1e-6, abs=1e-9)
    assert answer.bound <= least * (1 + 1e-7) + 1e-10
