"""Upper bounds from the rows, and columns that can never be used."""

from __future__ import annotations

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.dominance import from_stronger
from reaccord.solvers.exact.scaled import Scaled

ROUNDS = 20
NOISE = 1e-9


def presolve(scaled: Scaled) -> Scaled:
    """Return the programme with the tightest upper bounds its rows give; unusable columns get maximum 0."""
    alone, maximum = from_batch(scaled), np.where(idle(scaled), 0.0, scaled.maximum)
    for _ in range(ROUNDS):
        before = maximum
        maximum = _settled(scaled.minimum, np.minimum.reduce([before, alone, from_limits(scaled, before)]))
        if not (maximum < before - 1e-3 * np.where(np.isinf(maximum), 0.0, maximum)).any():
            break
    scaled = scaled.with_maximum(maximum)
    return scaled.with_maximum(settled(scaled, from_stronger(scaled))) if scaled.groups else scaled


def idle(scaled: Scaled) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Return columns outside the basis that no limit demands and no row wants: using them never helps."""
    beside = scaled.basis <= 0
    if not beside.any():
        return beside
    demanded = scaled.limits.columns_of(scaled.limits.amount < 0)
    wanted = (scaled.content[scaled.low > 0] > 0).any(axis=0)
    return np.asarray(beside & ~demanded & ~wanted)


def settled(scaled: Scaled, maximum: FloatArray) -> FloatArray:
    """Return `maximum`, 0 where it lies below the minimum or is nothing."""
    return _settled(scaled.minimum, np.minimum(maximum, scaled.maximum))


def _settled(minimum: FloatArray, maximum: FloatArray) -> FloatArray:
    hopeless = (maximum < minimum * (1 - NOISE)) | (maximum <= 0)
    return np.where(hopeless, 0.0, np.maximum(maximum, minimum))


def from_batch(scaled: Scaled) -> FloatArray:
    """Return the amount of each column that fills the batch alone, shape (n,)."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.where(scaled.basis > 0, 1.0 / scaled.basis, np.inf))


def from_limits(scaled: Scaled, maximum: FloatArray) -> FloatArray:
    """Return the largest amount each limit leaves to a column when the others, up to `maximum`, help it most; (n,)."""
    limits = scaled.limits
    if not len(limits.row):
        return np.full(len(scaled.basis), np.inf)
    reach = maximum[limits.column]
    least = limits.amount * np.where(limits.amount < 0, reach, scaled.minimum[limits.column]) + limits.use
    help_ = np.where(reach > 0, np.minimum(least, 0.0), 0.0)
    most = scaled.most - limits.summed(help_)
    limited = limits.amount > 0  # such an entry is no help itself
    room = np.maximum(most[limits.row] - limits.use, 0.0)[limited]
    largest = np.full(len(scaled.basis), np.inf)
    np.minimum.at(largest, limits.column[limited], room / limits.amount[limited])
    return largest


def from_value(scaled: Scaled, value: float) -> FloatArray:
    """Return the amount beyond which one row alone would cost more than `value`, shape (n,)."""
    top = scaled.high + np.sqrt(max(value, 0.0))
    row, column, entry = scaled.entries
    largest = np.full(len(scaled.basis), np.inf)
    np.minimum.at(largest, column, top[row] / entry)
    return largest
