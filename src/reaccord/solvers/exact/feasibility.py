"""Is anything left? A linear programme with elastic rows, and the proof its duals give."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from reaccord.contract import FloatArray
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


def nearest_feasible(scaled: Scaled, state: State) -> tuple[FloatArray, bool]:
    """Return the amounts (n,) that break the relaxed rows least, and whether none can keep them (proven).

    The proof is not the solver's word: its duals go through the closed form of `bound`, the objective being 0.
    """
    from scipy.optimize import linprog

    n, count = len(scaled.basis), len(scaled.most)
    rows, most = relaxed_rows(scaled, state)
    low, high = box(scaled, state)
    cost = np.concatenate([np.zeros(n), np.ones(count + 2)])
    equal = np.concatenate([scaled.basis, [1.0, -1.0], np.zeros(count)])[None, :]
    over = np.hstack([rows, np.zeros((count, 2)), -np.eye(count)])
    bounds = np.column_stack([
        np.concatenate([low, np.zeros(count + 2)]),
        np.concatenate([high, np.full(count + 2, np.inf)]),
    ])  # fmt: skip
    found: Any = linprog(
        cost,
        A_ub=over if count else None,
        b_ub=most if count else None,
        A_eq=equal,
        b_eq=np.ones(1),
        bounds=bounds.tolist(),
        method="highs",
    )
    if found.x is None:
        return low, False
    limits = np.maximum(0.0, -found.ineqlin.marginals) if count else np.zeros(0)
    nothing = replace(scaled, content=np.zeros((0, n)), low=np.zeros(0), high=np.zeros(0), constant=0.0)
    duals = Duals(float(found.eqlin.marginals[0]), limits, np.zeros(0))
    point = np.clip(found.x[:n], low, high)
    return point, bound_of(nothing, state, point, duals).value > PROVEN_OVER
