"""A weaker stock of a material is needed only for amounts the stronger one is too strong to weigh.

If a stronger stock holds everything in the same ratio and loads no limit more, any formula that pours the
weaker one in an amount the stronger one could stand for can pour the stronger one instead, at the same deviation.
So the weaker stock's maximum is where the stronger one's minimum begins; some closest formula is always left.
"""

from __future__ import annotations

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.scaled import Scaled

SAME = 1e-12


def from_stronger(scaled: Scaled) -> FloatArray:
    """Return the maxima (n,) at batch 1 that stronger stocks of the same material leave to weaker ones."""
    maximum = scaled.maximum.copy()
    for strengths in scaled.groups:
        single = [int(columns[0]) for columns in strengths if len(columns) == 1]
        if len(single) < len(strengths):
            continue  # several lots of one strength may be used together; they could not all move
        for weak in single:
            for strong in single:
                ratio = replaces(scaled, strong, weak)
                if ratio is not None:
                    maximum[weak] = min(maximum[weak], scaled.minimum[strong] / ratio)
    return np.maximum(maximum, 0.0)


def replaces(scaled: Scaled, strong: int, weak: int) -> float | None:
    """Return the gram of `strong` that stand for a gram of `weak` in every respect, or None."""
    if strong == weak or not 0 < scaled.basis[weak] < scaled.basis[strong] or scaled.maximum[strong] <= 0:
        return None
    ratio = float(scaled.basis[weak] / scaled.basis[strong])
    held, content = scaled.content[:, strong] * ratio, scaled.content[:, weak]
    if (np.abs(held - content) > SAME * content).any():
        return None
    loaded = scaled.amounts[:, strong] * ratio
    lighter = loaded <= scaled.amounts[:, weak] + SAME * np.abs(loaded)
    fewer = scaled.used[:, strong] <= scaled.used[:, weak]
    room = scaled.maximum[weak] * ratio <= scaled.maximum[strong] * (1 + SAME)
    return ratio if bool(lighter.all() and fewer.all() and room) else None
