"""Least squares with no negative amounts, by DAQP: for scipy's own all of `scipy.optimize` would have to be loaded."""

from __future__ import annotations

import numpy as np

from reaccord.contract import FloatArray

RAISED = 1e-10
"""Added to the unit diagonal: columns that make up for each other are told apart."""
UNBOUNDED = 1e30


def nonnegative(columns: FloatArray, wanted: FloatArray) -> FloatArray:
    """Return multipliers (count,), none negative, that bring columns (m, count) nearest to what is wanted (m,).

    Zeros where DAQP finds none.
    """
    import daqp

    count, whole = columns.shape[1], max(float(np.linalg.norm(wanted)), 1e-300)
    size = np.maximum(np.linalg.norm(columns, axis=0), 1e-300)
    unit = columns / size
    found, _, flag, _ = daqp.solve(
        unit.T @ unit + RAISED * np.eye(count), -(unit.T @ wanted) / whole, np.zeros((0, count)),
        np.full(count, UNBOUNDED), np.zeros(count), np.zeros(count, dtype=np.int32),
    )  # fmt: skip
    return np.asarray(np.maximum(found, 0.0) * whole / size) if flag > 0 else np.zeros(count)
