"""Questions of possibility, asked of HiGHS as mixed-integer programmes (scipy's door: silent)."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from reaccord.contract import FloatArray, LimitRow, Programme

WINDOW = 50
"""Steps to either side of the optimum in which a rounding is looked for first."""


def nearest_on_grid(programme: Programme, amounts: FloatArray, steps: FloatArray) -> FloatArray | None:
    """Return amounts on the grid with the same stocks, all limits held, nearest to `amounts`.

    Nearest: least sum of |move| over amount. None if there are none, whatever the distance.
    """
    for window in (WINDOW, None):
        found = _on_grid(programme, amounts, steps, window)
        if found is not None:
            return found
    return None


def _on_grid(
    programme: Programme, amounts: FloatArray, steps: FloatArray, window: int | None
) -> FloatArray | None:
    used = np.flatnonzero(amounts > 0)
    n = len(used)
    unit = np.where(steps[used] > 0, steps[used], 1.0)
    whole = steps[used] > 0
    least = np.where(whole, np.maximum(np.ceil(programme.minimum[used] / unit - 1e-9), 1), 0.0)
    most = np.where(whole, np.floor(programme.maximum[used] / unit + 1e-9), np.inf)
    at = amounts[used] / unit
    if window is not None:
        least, most = np.maximum(least, np.floor(at) - window), np.minimum(most, np.ceil(at) + window)
        least, most = np.where(whole, least, 0.0), np.where(whole, most, np.inf)
    if (least > most).any():
        return None
    switched = (amounts > 0).astype(float)
    rows = [np.concatenate([row.amounts[used] * unit, np.zeros(n)]) for row in programme.limits]
    highs = [_tight(row.most - float(row.used @ switched)) for row in programme.limits]
    lows = [-np.inf] * len(rows)
    batch = np.concatenate([programme.basis[used] * unit, np.zeros(n)])
    allowed = float(steps[used].sum())
    rows.append(batch)
    lows.append(programme.batch_g - allowed)
    highs.append(programme.batch_g + allowed)
    distance = np.hstack([np.eye(n), -np.eye(n)])
    rows += [*distance, *(-distance - 2 * np.hstack([np.zeros((n, n)), np.eye(n)]))]
    highs += [*at, *(-at)]
    lows += [-np.inf] * (2 * n)
    result = milp(
        np.concatenate([np.zeros(n), np.where(whole, 1.0 / np.maximum(at, 1.0), 0.0)]),
        constraints=LinearConstraint(np.array(rows), lows, highs),
        integrality=np.concatenate([whole, np.zeros(n)]),
        bounds=Bounds(np.concatenate([least, np.zeros(n)]), np.concatenate([most, np.full(n, np.inf)])),
        options={"mip_rel_gap": 1e-3, "time_limit": 20.0},
    )
    if result.x is None:
        return None
    found = np.zeros(len(amounts))
    counts = np.where(whole, np.round(result.x[:n]), result.x[:n])
    found[used] = counts * unit
    return found


def _tight(most: float) -> float:
    """Leave HiGHS's tolerance out of what it may use up."""
    return most - 1e-9 * max(abs(most), 1e-6)


def possible(programme: Programme, without: Collection[str] = ()) -> bool:
    """Whether any formula holds all limits but those named in `without` (a limit row's `limit`).

    Two more names can be left out: `weighable` (smallest masses) and `on hand` (grams there).
    """
    limits = tuple(row for row in programme.limits if row.limit not in without)
    if "weighable" in without:
        programme = replace(programme, minimum=np.zeros(len(programme.minimum)))
    if "on hand" in without:
        programme = replace(programme, maximum=np.full(len(programme.maximum), np.inf))
    return _feasible(replace(programme, limits=limits))


def _feasible(programme: Programme) -> bool:
    """Ask HiGHS for any point, amounts in units of the batch, with a switch for each stock."""
    n = len(programme.columns)
    scale = programme.batch_g
    rows, lows, highs = [np.concatenate([programme.basis, np.zeros(n)])], [1.0], [1.0]
    largest = np.minimum(programme.maximum / scale, _largest(programme))
    for i in range(n):
        on = np.zeros(2 * n)
        on[i], on[n + i] = 1.0, -largest[i]
        off = np.zeros(2 * n)
        off[i], off[n + i] = -1.0, programme.minimum[i] / scale
        rows += [on, off]
        lows += [-np.inf, -np.inf]
        highs += [0.0, 0.0]
    for row in (*programme.limits, *_one_strength(programme)):
        line = np.concatenate([row.amounts * scale, row.used])
        size = float(np.abs(line).max()) or 1.0
        rows.append(line / size)
        lows.append(-np.inf)
        highs.append(row.most / size)
    result = milp(
        np.zeros(2 * n),
        constraints=LinearConstraint(np.array(rows), lows, highs),
        integrality=np.concatenate([np.zeros(n), np.ones(n)]),
        bounds=Bounds(np.zeros(2 * n), np.concatenate([largest, np.ones(n)])),
        options={"time_limit": 20.0},
    )
    return result.status != 2


def _largest(programme: Programme) -> FloatArray:
    """Return what a stock can at most be, in units of the batch; carriers: a thousand batches."""
    with np.errstate(divide="ignore"):
        largest: FloatArray = np.where(programme.basis > 1e-9, 1 / programme.basis, np.inf)
    return np.minimum(largest, 1000.0)


def _one_strength(programme: Programme) -> list[LimitRow]:
    """Return z_i + z_j <= 1 for stocks of different strengths of one material."""
    n = len(programme.columns)
    rows = []
    for strengths in programme.strengths:
        for k, first in enumerate(strengths):
            for second in strengths[k + 1 :]:
                for i in first:
                    for j in second:
                        used = np.zeros(n)
                        used[[i, j]] = 1.0
                        rows.append(LimitRow("one strength", "", "", np.zeros(n), used, 1.0))
    return rows
