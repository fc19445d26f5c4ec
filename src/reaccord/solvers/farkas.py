"""Why nothing is left: multipliers of the batch and of the limits that no formula within a state can meet."""

from __future__ import annotations

from typing import Any

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.feasibility import box, relaxed_rows
from reaccord.solvers.exact.scaled import Scaled, State

OVER = 1e-12


def hopeless(scaled: Scaled, state: State) -> tuple[float, FloatArray, float] | None:
    """Return `mu`, the limits' multipliers (L,) and how much they exclude the state by, or None.

    They are the duals of the least total violation of batch and limits, switches of free columns as
    `x / maximum`; they prove what the closed form makes of them, HiGHS's word counts for nothing.
    """
    from scipy.optimize import linprog

    n, count = len(scaled.basis), len(scaled.most)
    rows, most = relaxed_rows(scaled, state)
    low, high = box(scaled, state)
    if (low > high).any():
        return None
    elastic = np.concatenate([np.zeros(n), np.ones(2 + count)])
    batch = np.concatenate([scaled.basis, [1.0, -1.0], np.zeros(count)])[None, :]
    limits = np.hstack([rows, np.zeros((count, 2)), -np.eye(count)])
    above = np.concatenate([high, np.full(2 + count, np.inf)])
    below = np.concatenate([low, np.zeros(2 + count)])
    found: Any = linprog(
        elastic,
        A_ub=limits if count else None,
        b_ub=most if count else None,
        A_eq=batch,
        b_eq=np.ones(1),
        bounds=np.column_stack([below, above]).tolist(),
        method="highs",
    )
    if found.x is None or found.fun <= OVER:
        return None
    multipliers = np.maximum(0.0, -found.ineqlin.marginals) if count else np.zeros(0)
    return float(found.eqlin.marginals[0]), multipliers, float(found.fun)
