"""Questions of possibility, asked of HiGHS as mixed-integer programmes."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray, Programme
from reaccord.solvers import few_whole, highs
from reaccord.solvers.highs import Rows
from reaccord.solvers.switching import reach

BoolArray = NDArray[np.bool_]

PATIENCE = 20.0
"""Seconds for one question; unanswered, it counts as possible."""

CLOSE = 1e-4
"""Relative gap of a least."""

WINDOW = 50
"""Steps to either side of the optimum in which a rounding is looked for first."""


def nearest_on_grid(programme: Programme, amounts: FloatArray, margin: float = 0.0) -> FloatArray | None:
    """Return amounts on the grid with the same stocks, all limits held, nearest to `amounts`.

    Nearest: least sum of |move| over amount; grams made move at no cost. Limits are kept by `margin`, relative, more
    than asked: HiGHS holds a row to 1e-7 only. None if there are none, whatever the distance.
    """
    for window in (WINDOW, None):
        found = _on_grid(programme, amounts, window, margin)
        if found is not None:
            return found
    return None


def _on_grid(programme: Programme, amounts: FloatArray, window: int | None, margin: float) -> FloatArray | None:
    used, steps = np.flatnonzero(amounts > 0), programme.step
    n = len(used)
    whole = steps[used] > 0
    unit = np.where(whole, steps[used], 1.0)
    at = amounts[used] / unit
    least, most = _ends(programme.minimum[used] / unit, programme.maximum[used] / unit, at, whole, window)
    if (least > most).any():
        return None
    rows, ends = _limit_rows(programme, used, unit, margin)
    lows = [-np.inf] * len(rows)
    rows.append(np.concatenate([programme.basis[used] * unit, np.zeros(n)]))
    allowed = float(steps[used] @ (programme.basis[used] > 0))
    lows.append(programme.batch_g - allowed)
    ends.append(programme.batch_g + allowed)
    distance = np.hstack([np.eye(n), -np.eye(n)])
    rows += [*distance, *(-distance - 2 * np.hstack([np.zeros((n, n)), np.eye(n)]))]
    ends += [*at, *(-at)]
    lows += [-np.inf] * (2 * n)
    size = np.maximum(at, np.where(whole, 1.0, 1e-6 * programme.batch_g))
    weight = np.where(programme.helpers[used], 0.0, 1.0 / size)
    model = highs.Linear(
        cost=np.concatenate([np.zeros(n), weight]),
        lower=np.concatenate([least, np.zeros(n)]),
        upper=np.concatenate([most, np.full(n, np.inf)]),
        rows=np.array(rows),
        least=np.array(lows),
        most=np.array(ends),
        whole=np.concatenate([whole, np.zeros(n, dtype=bool)]),
    )
    said = highs.solve(model, mip_rel_gap=1e-3, time_limit=PATIENCE)
    if said.columns is None:
        return None
    found = np.zeros(len(amounts))
    found[used] = np.where(whole, np.round(said.columns[:n]), said.columns[:n]) * unit
    return found


def _ends(
    least: FloatArray, most: FloatArray, at: FloatArray, whole: BoolArray, window: int | None
) -> tuple[FloatArray, FloatArray]:
    """Return the least and the most, in steps; a stock without a grid keeps its own ends."""
    low = np.where(whole, np.maximum(np.ceil(least - 1e-9), 1), least)
    high = np.where(whole, np.floor(most + 1e-9), most)
    if window is not None:
        low = np.where(whole, np.maximum(low, np.floor(at) - window), low)
        high = np.where(whole, np.minimum(high, np.ceil(at) + window), high)
    return low, high


def _limit_rows(
    programme: Programme, used: NDArray[np.intp], unit: FloatArray, margin: float
) -> tuple[list[FloatArray], list[float]]:
    """Return the limits over the stocks used, their largest number 1, and what they may reach."""
    switched = np.isin(np.arange(len(programme.columns)), used).astype(float)
    rows, ends = [], []
    for row in programme.limits:
        amounts, most = row.amounts[used] * unit, row.most - float(row.used @ switched)
        size = max(float(np.abs(amounts).max(initial=0.0)), 1e-300)
        rows.append(np.concatenate([amounts / size, np.zeros(len(used))]))
        ends.append(most / size - margin * max(abs(most) / size, 1.0))
    return rows, ends


def possible(programme: Programme, without: Collection[str] = ()) -> bool:
    """Whether any formula holds all limits.

    Two things beside the limit rows can be left out: `weighable` (smallest masses) and `on hand` (grams there).
    """
    if not len(programme.columns):
        return False
    model = _model(_freed(programme, without), np.zeros(2 * len(programme.columns)))
    return few_whole.solve(model, time_limit=PATIENCE).ended != "infeasible"


def least_of(
    programme: Programme,
    amounts: FloatArray,
    used: FloatArray,
    seconds: float,
    batches: tuple[float, float] = (1.0, 1.0),
) -> FloatArray | None:
    """Return the formula (n,) with the least `amounts @ x + used @ z` that holds every limit; None: not known in time.

    Parameters
    ----------
    programme
        Limits, smallest masses and grams on hand hold.
    amounts, used
        Coefficients (n,) of gram and of stocks used.
    seconds
        For the search. What it has found by then has not the least, and is not returned.
    batches
        How many times the batch may be made, at least and at most.
    """
    if not len(programme.columns):
        return None
    line = np.concatenate([amounts * programme.batch_g, used])
    model = _model(programme, line / (float(np.abs(line).max(initial=0.0)) or 1.0), batches[1])
    model.least[0], model.most[0] = batches
    said = few_whole.solve(model, mip_rel_gap=CLOSE, time_limit=seconds)
    if said.ended != "optimal" or said.columns is None:
        return None
    poured, on = np.split(said.columns, 2)
    found: FloatArray = np.where(on > 0.5, poured, 0.0) * programme.batch_g
    return found


def _freed(programme: Programme, without: Collection[str]) -> Programme:
    if "weighable" in without:
        programme = replace(programme, minimum=np.zeros(len(programme.minimum)))
    if "on hand" in without:
        programme = replace(programme, maximum=np.full(len(programme.maximum), np.inf))
    return programme


def _model(programme: Programme, cost: FloatArray, room: float = 1.0) -> highs.Linear:
    """Return the limits for HiGHS, amounts in units of the batch, with a switch for each stock; the batch is row 0.

    `room` is how many batches may be made.
    """
    n, scale = len(programme.columns), programme.batch_g
    largest = np.minimum(programme.maximum / scale, room * most_of(programme))
    if room <= 1.0:  # what the limits leave in one batch
        largest = np.minimum(largest, reach(programme, needless=True) / scale)
    grams, used, _, most = programme.limit_arrays
    pairs = _one_strength(programme)
    lines = np.vstack([np.hstack([grams * scale, used]), pairs])
    size = np.abs(lines).max(axis=1, initial=0.0)
    size[size == 0] = 1.0
    ends = np.concatenate([most, np.ones(len(pairs))]) / size
    # row 0, then x <= largest z and minimum z <= x of each stock, then the limits: in order as they stand here
    one, each = np.ones(n), np.arange(n)
    of_stocks = np.column_stack([one, -largest, -one, programme.minimum / scale]).ravel()
    row, column = np.nonzero(lines)
    held = np.flatnonzero(programme.basis)
    length = np.concatenate([[len(held)], np.full(2 * n, 2), np.bincount(row, minlength=len(lines))])
    columns = [held, np.column_stack([each, each + n, each, each + n]).ravel(), column]
    rows = Rows(
        np.concatenate([[0], np.cumsum(length)]).astype(np.int32),
        np.concatenate(columns).astype(np.int32),
        np.concatenate([programme.basis[held], of_stocks, lines[row, column] / size[row]]),
    )
    return highs.Linear(
        cost=cost,
        lower=np.zeros(2 * n),
        upper=np.concatenate([largest, (largest > 0).astype(float)]),
        rows=rows,
        least=np.concatenate([[1.0], np.full(len(length) - 1, -np.inf)]),
        most=np.concatenate([[1.0], np.zeros(2 * n), ends]),
        whole=np.arange(2 * n) >= n,
    )


def most_of(programme: Programme) -> FloatArray:
    """Return what a stock can at most be, in units of the batch; carriers: a thousand batches."""
    with np.errstate(divide="ignore"):
        largest: FloatArray = np.where(programme.basis > 1e-9, 1 / programme.basis, np.inf)
    return np.minimum(largest, 1000.0)


def pairs_of_strengths(programme: Programme) -> list[tuple[int, int]]:
    """Return the pairs of stocks of one material of which one is poured at most: they differ in strength."""
    return [
        (i, j)
        for strengths in programme.strengths
        for k, first in enumerate(strengths)
        for second in strengths[k + 1 :]
        for i in first
        for j in second
    ]


def _one_strength(programme: Programme) -> FloatArray:
    """Return z_i + z_j for stocks of different strengths of one material, at most 1 each: coefficients (count, 2n)."""
    pairs = pairs_of_strengths(programme)
    rows = np.zeros((len(pairs), 2 * len(programme.columns)))
    for k, pair in enumerate(pairs):
        rows[k, [len(programme.columns) + i for i in pair]] = 1.0
    return rows
