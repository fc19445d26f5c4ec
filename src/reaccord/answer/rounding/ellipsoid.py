"""The points of the grid in an ellipsoid.

They are listed line by line, the best determined line first (Fincke and Pohst, Mathematics of Computation 44, 1985; the
order after Wolniansky, Foschini, Golden and Valenzuela, ISSSE 1998), all those of one line at once.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from reaccord.answer.rounding.grid import Columns
from reaccord.contract import FloatArray

MOST_POINTS = 20_000
"""Points of one line at a time: some hundredths of a second."""
FLAT = 1e-9
"""Least curvature beside a line's own: what is flatter is not told from what is not convex."""


class Ellipsoid(NamedTuple):
    """What the ellipsoids `(x - middle)' square (x - middle) <= room` have in common over lines (m,).

    The inverse of the square, the order of the lines, the square's root in that order.
    """

    spread: FloatArray
    order: Columns
    upper: FloatArray

    @classmethod
    def of(cls, square: FloatArray) -> Ellipsoid | None:
        """Return that of a square (m, m); None where it is flat in a direction or curves down."""
        if not convex(square):
            return None
        spread = np.asarray(np.linalg.inv(square), dtype=float)
        order = _best_determined_last(spread)
        return cls(spread, order, np.asarray(np.linalg.cholesky(square[np.ix_(order, order)]).T, dtype=float))

    def points(self, middle: FloatArray, room: float, least: FloatArray, most: FloatArray) -> FloatArray | None:
        """Return the whole points (m, count) from `least` to `most` in one of them; None if they are too many."""
        order = self.order
        if room < 0:
            return np.zeros((len(order), 0))
        if _expected(self.upper, room) > MOST_POINTS:
            return None
        points = _listed(self.upper, middle[order], room, least[order], most[order])
        if points is None:
            return None
        found = np.empty_like(points)
        found[order] = points
        return found


def convex(square: FloatArray) -> bool:
    """Whether a quadratic curves up in every direction, by more than noise."""
    size = np.sqrt(np.maximum(np.diag(square), 1e-300))
    return bool(np.linalg.eigvalsh(square / size[:, None] / size)[0] >= FLAT)


def _best_determined_last(spread: FloatArray) -> Columns:
    """Return lines in an order in which each, told those behind it, is as sure as can be; `spread` is the inverse."""
    left, order, spread = list(range(len(spread))), list[int](), spread.copy()
    while left:
        best = min(left, key=lambda i: (spread[i, i], i))
        order.append(best)
        left.remove(best)
        spread -= np.outer(spread[:, best], spread[best]) / spread[best, best]
    return np.array(order[::-1], dtype=np.intp)


def _expected(upper: FloatArray, room: float) -> float:
    """Return about how many points there are at the fullest line: volumes of the ellipsoids."""
    sides = np.sqrt(max(room, 1e-300)) / np.diag(upper)[::-1]
    most, volume = 1.0, 0.0
    for k, side in enumerate(sides, start=1):
        volume += math.log(max(side, 1e-300))
        ball = 0.5 * k * math.log(math.pi) - math.lgamma(0.5 * k + 1)
        most = max(most, math.exp(min(volume + ball, 700.0)))
    return most


def _listed(
    upper: FloatArray, middle: FloatArray, room: float, least: FloatArray, most: FloatArray
) -> FloatArray | None:
    """Return the whole `n` (m, count) with `|upper (n - middle)|^2 <= room`, `least <= n <= most`; None if too many."""
    lines = len(middle)
    away = np.zeros((lines, 1))
    used = np.zeros(1)
    for i in range(lines - 1, -1, -1):
        centre = middle[i] - upper[i, i + 1 :] @ away[i + 1 :] / upper[i, i]
        half = np.sqrt(np.maximum(room - used, 0.0)) / upper[i, i]
        first, last = np.maximum(np.ceil(centre - half), least[i]), np.minimum(np.floor(centre + half), most[i])
        counts = np.maximum(last - first + 1, 0.0)
        total = int(counts.sum())
        if total > MOST_POINTS:
            return None
        whole = counts.astype(np.intp)
        at = np.repeat(np.arange(len(whole)), whole)
        steps = np.repeat(first - (np.cumsum(whole) - whole), whole) + np.arange(total)
        away, used = away[:, at], used[at] + (upper[i, i] * (steps - centre[at])) ** 2
        away[i] = steps - middle[i]
    return np.round(away + middle[:, None])
