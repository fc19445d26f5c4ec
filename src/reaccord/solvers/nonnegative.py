"""Least squares with no negative amounts, by scipy."""

from __future__ import annotations

import numpy as np

from reaccord.contract import FloatArray


def nonnegative(columns: FloatArray, wanted: FloatArray) -> FloatArray:
    """Return multipliers (count,), none negative, that bring columns (m, count) nearest to what is wanted (m,).

    Zeros where scipy takes too long for them.
    """
    from scipy.optimize import nnls

    size = np.maximum(np.linalg.norm(columns, axis=0), 1e-300)
    try:
        return np.asarray(nnls(columns / size, wanted)[0] / size)
    except RuntimeError:
        return np.zeros(columns.shape[1])
