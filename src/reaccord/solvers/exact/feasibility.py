"""Is anything left? A linear programme with elastic rows, and the proof its duals give."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers import highs
from reaccord.solvers.exact.bound import Duals, bound_of
from reaccord.solvers.exact.scaled import FREE, OFF, ON, Scaled, State

PROVEN_OVER = 1e-9


def relaxed_rows(scaled: Scaled, state: State) -> tuple[FloatArray, FloatArray]:
    """Return the limit rows, switches of free columns as `x / maximum`, and what is left of `most`."""
    free = state == FREE
    with np.errstate(divide="ignore", invalid="ignore"):
        per_gram = np.where(free & (scaled.maximum > 0), scaled.used / scaled.maximum, 0.0)
    return scaled.amounts + per_gram, scaled.most - scaled.used @ (state == ON)


def box(scaled: Scaled, state: State) -> tuple[FloatArray, FloatArray]:
    """Return the lower and upper bound of each column in the relaxation, each (n,)."""
    return np.where(state == ON, scaled.minimum, 0.0), np.where(state == OFF, 0.0, scaled.maximum)


def elastic(scaled: Scaled, state: State) -> highs.Linear:
    """Return the least total violation of batch and limits as a linear programme.

    Columns: amounts (n,), short and over of the batch, over of each limit; rows: the batch, then the limits.
    """
    n, count = len(scaled.basis), len(scaled.most)
    rows, most = relaxed_rows(scaled, state)
    low, high = box(scaled, state)
    batch = np.concatenate([scaled.basis, [1.0, -1.0], np.zeros(count)])[None, :]
    limits = np.hstack([rows, np.zeros((count, 2)), -np.eye(count)])
    return highs.Linear(
        cost=np.concatenate([np.zeros(n), np.ones(2 + count)]),
        lower=np.concatenate([low, np.zeros(2 + count)]),
        upper=np.concatenate([high, np.full(2 + count, np.inf)]),
        rows=np.vstack([batch, limits]),
        least=np.concatenate([[1.0], np.full(count, -np.inf)]),
        most=np.concatenate([[1.0], most]),
    )


def nearest_feasible(scaled: Scaled, state: State) -> tuple[FloatArray, bool]:
    """Return the amounts (n,) that break the relaxed rows least, and whether none can keep them (proven).

    The proof is not the solver's word: its duals go through the closed form of `bound`, the objective being 0.
    """
    n, count = len(scaled.basis), len(scaled.most)
    model = elastic(scaled, state)
    low, high = model.lower[:n], model.upper[:n]
    said = highs.solve(model)
    if said.columns is None:
        return low, False
    limits = np.maximum(0.0, -said.duals[1:]) if count else np.zeros(0)
    nothing = replace(scaled, content=np.zeros((0, n)), low=np.zeros(0), high=np.zeros(0), constant=0.0)
    duals = Duals(float(said.duals[0]), limits, np.zeros(0))
    point = np.clip(said.columns[:n], low, high)
    return point, bound_of(nothing, state, point, duals).value > PROVEN_OVER
