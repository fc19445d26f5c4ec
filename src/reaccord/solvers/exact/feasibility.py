"""Is anything left? A linear programme with elastic rows, and the proof its duals give."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers import highs
from reaccord.solvers.exact.bound import Duals, bound_of
from reaccord.solvers.exact.scaled import FREE, OFF, ON, IntArray, Scaled, State

PROVEN_OVER = 1e-9
SMALL = 200
"""Columns up to which a linear programme is solved sooner than HiGHS has set itself up with all it can."""


def relaxed_rows(scaled: Scaled, state: State, columns: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return the limit rows over some columns, switches of free ones as `x / maximum`, and what is left of `most`."""
    if not scaled.limits.counts:
        return scaled.amounts[:, columns], scaled.most
    rows = scaled.amounts[:, columns] + scaled.used[:, columns] * _switch_per_gram(scaled, state)[columns]
    return rows, scaled.most - scaled.limits.switched(state == ON)


def relaxed_price(scaled: Scaled, state: State, duals: FloatArray) -> FloatArray:
    """Return what a gram of each column costs by duals (L,) of the `relaxed_rows`, shape (n,)."""
    limits = scaled.limits
    return limits.priced(duals) + limits.charged(duals) * _switch_per_gram(scaled, state)


def _switch_per_gram(scaled: Scaled, state: State) -> FloatArray:
    """Return how much of its switch a gram of each free column takes at least, shape (n,)."""
    switched = (state == FREE) & (scaled.maximum > 0)
    return np.where(switched, 1.0 / np.where(switched, scaled.maximum, 1.0), 0.0)


def box(scaled: Scaled, state: State) -> tuple[FloatArray, FloatArray]:
    """Return the lower and upper bound of each column in the relaxation, each (n,)."""
    return np.where(state == ON, scaled.minimum, 0.0), np.where(state == OFF, 0.0, scaled.maximum)


def elastic(scaled: Scaled, state: State) -> highs.Linear:
    """Return the least total violation of batch and limits as a linear programme.

    Columns: amounts (n,), short and over of the batch, over of each limit; rows: the batch, then the limits.
    """
    n, count, limits = len(scaled.basis), len(scaled.most), scaled.limits
    low, high = box(scaled, state)
    every, over = np.arange(n), np.arange(count)
    row = np.concatenate([np.zeros(n + 2, dtype=np.int_), 1 + limits.row, 1 + over])
    column = np.concatenate([every, [n, n + 1], limits.column, n + 2 + over])
    per_gram = limits.amount + limits.use * _switch_per_gram(scaled, state)[limits.column]
    entry = np.concatenate([scaled.basis, [1.0, -1.0], per_gram, -np.ones(count)])
    return highs.Linear(
        cost=np.concatenate([np.zeros(n), np.ones(2 + count)]),
        lower=np.concatenate([low, np.zeros(2 + count)]),
        upper=np.concatenate([high, np.full(2 + count, np.inf)]),
        rows=highs.by_rows([(row, column, entry)], 1 + count),
        least=np.concatenate([[1.0], np.full(count, -np.inf)]),
        most=np.concatenate([[1.0], scaled.most - limits.switched(state == ON)]),
    )


def nearest_feasible(scaled: Scaled, state: State) -> tuple[FloatArray, bool]:
    """Return the amounts (n,) that break the relaxed rows least, and whether none can keep them (proven).

    The proof is not the solver's word: its duals go through the closed form of `bound`, the objective being 0.
    """
    n, count = len(scaled.basis), len(scaled.most)
    model = elastic(scaled, state)
    low, high = model.lower[:n], model.upper[:n]
    said = highs.Loaded(model).solve() if len(model.cost) <= SMALL else highs.solve(model)
    if said.columns is None:
        return low, False
    limits = np.maximum(0.0, -said.duals[1:]) if count else np.zeros(0)
    point = np.clip(said.columns[:n], low, high)
    return point, none_left(scaled, state, point, float(said.duals[0]), limits)


def none_left(scaled: Scaled, state: State, point: FloatArray, mu: float, limits: FloatArray) -> bool:
    """Return whether multipliers of the batch and the limits (L,) prove at a point (n,) that a state has no formula."""
    n, size = len(point), max(abs(mu), float(np.abs(limits).max(initial=0.0)))
    if not 0 < size < np.inf:
        return False
    nothing = replace(scaled, content=np.zeros((0, n)), low=np.zeros(0), high=np.zeros(0), constant=0.0)
    duals = Duals(mu / size, limits / size, np.zeros(0))
    return bound_of(nothing, state, point, duals).value > PROVEN_OVER
