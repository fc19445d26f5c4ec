"""Formulas one step away: what dropping, adding or swapping a column would bring, by the KKT matrix."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.formula import BoolArray, Formula
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.scaled import IntArray, Scaled

MOST = 300
"""How many of the most promising changes are told."""
NONE = -1


class Moves(NamedTuple):
    """Estimated change of the value; infinite: cannot be.

    drop, add : (n,)
        When a column is dropped or added.
    used : (u,)
        The columns of the formula: first those whose amounts are not at an end.
    swap : (u, n)
        When one of these is dropped and another column is added.
    """

    drop: FloatArray
    add: FloatArray
    used: IntArray
    swap: FloatArray


def estimated(model: Model, formula: Formula, batch_g: float) -> Moves:
    """Return the estimates at a formula, from second order around it with the active limits held.

    A swap counts what the column dropped leaves to the one added: lots of one material stand for each other.
    """
    scaled = model.scaled
    x = formula.amounts / batch_g
    count = int(formula.support.sum())
    columns = np.flatnonzero(formula.support)
    tight = np.flatnonzero(formula.point.duals[1:])
    rows = np.vstack([scaled.basis, scaled.amounts[tight]])
    free = columns[formula.point.bounds[:count] == 0]
    ended = np.setdiff1d(columns, free)
    cost = _reduced(model, formula, x)
    inverse = _inverse(scaled.products.hessian(free), rows[:, free])
    across = np.vstack([scaled.products.across(free), rows])
    answer = inverse @ across
    least = 1e-9 * scaled.products.curvature + 1e-15
    curvature = np.maximum(scaled.products.curvature - np.einsum("ij,ij->j", across, answer), least)
    own = np.maximum(np.diag(inverse)[: len(free)], 1e-15)
    drop = -cost * x + 0.5 * curvature * x**2
    drop[free] = 0.5 * x[free] ** 2 / own
    drop[~formula.support | scaled.helpers] = np.inf
    never = formula.support | scaled.helpers | (scaled.maximum <= 0)
    add = np.where(never, np.inf, _poured(scaled, cost, curvature))
    moved = answer[: len(free)]  # what the free columns give way by, for a gram of each column
    left = scaled.products.across(ended) - across[:, ended].T @ answer  # of the slope, what a gram less leaves
    instead = np.vstack(
        [
            _poured(scaled, cost - (x[free] / own)[:, None] * moved, curvature + moved**2 / own[:, None]),
            _poured(scaled, cost - x[ended][:, None] * left, curvature),
        ]
    )
    used = np.concatenate([free, ended])
    return Moves(drop, add, used, np.where(never, np.inf, drop[used][:, None] + instead))


def _poured(scaled: Scaled, cost: FloatArray, curvature: FloatArray) -> FloatArray:
    """Return what pouring as much of each column as is best brings."""
    at = np.clip(-cost / curvature, scaled.minimum, scaled.maximum)
    return np.asarray(cost * at + 0.5 * curvature * at**2)


def _reduced(model: Model, formula: Formula, x: FloatArray) -> FloatArray:
    scaled, duals = model.scaled, formula.point.duals
    gradient = scaled.products.weighed(2.0 * scaled.distance(x))
    return np.asarray(gradient + duals[0] * scaled.basis + scaled.limits.priced(duals[1:]))


def _inverse(square: FloatArray, rows: FloatArray) -> FloatArray:
    """Return the inverse of the KKT matrix, slightly raised so that it exists."""
    size = len(square)
    system = np.block([[square, rows.T], [rows, -1e-9 * np.eye(len(rows))]])
    system[np.arange(size), np.arange(size)] += 1e-9 * (np.diag(square) + 1e-6)
    try:
        return np.asarray(np.linalg.inv(system))
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.pinv(system))


def supports(moves: Moves, formula: Formula) -> list[tuple[float, BoolArray]]:
    """Return the most promising supports one step away with their estimates, the best first."""
    columns = np.arange(len(moves.drop))
    none, swaps = np.full(len(columns), NONE), len(moves.used)
    dropped = np.concatenate([columns, none, np.repeat(moves.used, len(columns))])
    added = np.concatenate([none, columns, np.tile(columns, swaps)])
    every = np.concatenate([moves.drop, moves.add, moves.swap.ravel()])
    likely = np.flatnonzero(np.isfinite(every) & (every <= _nth(every, MOST)))
    likely = likely[np.argsort(every[likely], kind="stable")][:MOST]
    return [(float(every[k]), _changed(formula.support, added[k], dropped[k])) for k in likely]


def _nth(values: FloatArray, place: int) -> float:
    """Return the value that so many are no larger than: of hundreds of thousands only the first are put in order."""
    return float(np.partition(values, place - 1)[place - 1]) if len(values) > place else math.inf


def _changed(support: BoolArray, added: int, dropped: int) -> BoolArray:
    changed = support.copy()
    if added != NONE:
        changed[added] = True
    if dropped != NONE:
        changed[dropped] = False
    return changed
