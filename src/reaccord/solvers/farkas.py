"""Why nothing is left: multipliers of the batch and of the limits that no formula within a state can meet."""

from __future__ import annotations

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers import highs
from reaccord.solvers.exact.feasibility import elastic
from reaccord.solvers.exact.scaled import Scaled, State

OVER = 1e-12


def hopeless(scaled: Scaled, state: State) -> tuple[float, FloatArray, float] | None:
    """Return `mu`, the limits' multipliers (L,) and how much they exclude the state by, or None.

    They are the duals of the least total violation of batch and limits, switches of free columns as
    `x / maximum`; they prove what the closed form makes of them, HiGHS's word counts for nothing.
    """
    model = elastic(scaled, state)
    if (model.lower > model.upper).any():
        return None
    said = highs.solve(model)
    if said.columns is None or said.value <= OVER:
        return None
    return float(said.duals[0]), np.maximum(0.0, -said.duals[1:]), said.value
