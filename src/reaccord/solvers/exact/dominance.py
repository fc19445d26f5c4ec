"""A weaker stock of a material is needed only for amounts the stronger one is too strong to weigh.

If a stronger stock holds everything in the same ratio and loads no limit more, any formula that pours the
weaker one in an amount the stronger one could stand for can pour the stronger one instead, at the same deviation.
So the weaker stock's maximum is where the stronger one's minimum begins; some closest formula is always left.
"""

from __future__ import annotations

from itertools import permutations

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.scaled import IntArray, Scaled

SAME = 1e-12


def from_stronger(scaled: Scaled) -> FloatArray:
    """Return the maxima (n,) at batch 1 that stronger stocks of the same material leave to weaker ones."""
    maximum = scaled.maximum.copy()
    weak, strong = _pairs(scaled)
    ratio = scaled.basis[weak] / scaled.basis[strong]
    content = scaled.content[:, weak]
    stands = (np.abs(scaled.content[:, strong] * ratio - content) <= SAME * content).all(axis=0)
    loaded = scaled.amounts[:, strong] * ratio
    stands &= (loaded <= scaled.amounts[:, weak] + SAME * np.abs(loaded)).all(axis=0)
    stands &= (scaled.used[:, strong] <= scaled.used[:, weak]).all(axis=0)
    stands &= scaled.maximum[weak] * ratio <= scaled.maximum[strong] * (1 + SAME)
    np.minimum.at(maximum, weak[stands], (scaled.minimum[strong] / ratio)[stands])
    return np.maximum(maximum, 0.0)


def _pairs(scaled: Scaled) -> tuple[IntArray, IntArray]:
    """Return a weaker stock and a stronger one of the same material that can be poured, all pairs of such.

    Several lots of one strength may be used together: they could not all be replaced.
    """
    single = [
        [int(columns[0]) for columns in strengths]
        for strengths in scaled.groups
        if all(len(columns) == 1 for columns in strengths)
    ]
    pairs = np.array([pair for same in single for pair in permutations(same, 2)], dtype=np.int_).reshape(-1, 2)
    weak, strong = pairs.T
    basis = scaled.basis
    kept = (basis[weak] > 0) & (basis[weak] < basis[strong]) & (scaled.maximum[strong] > 0)
    return weak[kept], strong[kept]
