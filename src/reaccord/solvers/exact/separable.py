"""Terms of single columns that a sum of squared distances is never below.

A row whose content is `s = sum_i u_i`, of parts `u_i = content_ji x_i >= 0`, costs `f(s) = (s - clip(s, low, high))^2`.
For any `level >= 0`, with `t = level - clip(level, low, high)`,

    f(s) >= t^2 + 2 t (s - level) + sum_i rise(u_i)
    rise(u) = f(v) - t^2 - 2 t (v - level),   v = max(u, level)

Proof. `E(a) = f(level + a) - t^2 - 2 t a`, for `a >= 0`, is what `f` lies above its tangent at the level: convex, 0
at 0 and never negative, so it does not decrease and `E(a) + E(b) <= E(a + b)`. If `s <= level`, no part exceeds the
level either, every rise is `E(0) = 0`, and `f` lies above its tangent. Else `s - level >= sum_i max(0, u_i - level)`:
the level is taken away once on the left and, being no less than 0, at least once on the right where anything is left.
So `E(s - level) >= E(sum_i max(0, u_i - level)) >= sum_i E(max(0, u_i - level))`.

With hinges `[a] = max(0, u - a)^2` a rise is

    [level]                             level > high, or a share row (low = high)
    [high]                              low <= level <= high
    [level] - [low] + [high]            level < low

It is convex, but with a hinge taken away its slope is not: the least of a column is looked for in a bracket.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.filled import Filled
from reaccord.solvers.exact.scaled import IntArray, Scaled

STEPS, PATIENCE = 120, 8
LITTLE, BEYOND = 1e-18, 4e-16
"""What may be paid for the rest of a bracket; how far a step goes on, of the amount, to close it on the other side."""


def rise(content: FloatArray, level: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Return what single parts add to a row beyond its tangent at the level, all of one shape."""
    over = np.maximum(content, level)
    off, there = level - np.clip(level, low, high), over - np.clip(over, low, high)
    return np.asarray(there**2 - off**2 - 2.0 * off * (over - level))


class Terms(NamedTuple):
    """The terms of `size` columns as hinges, all (H,): whose, its content, where it starts, added or taken away."""

    size: int
    column: IntArray
    entry: FloatArray
    start: FloatArray
    sign: FloatArray

    @staticmethod
    def of(scaled: Scaled, levels: FloatArray, filled: Filled | None = None) -> Terms:
        """Return the terms of all columns with every row stated at its level (K,), which exceeds what is filled."""
        row, column, entry = scaled.entries
        inside = (levels >= scaled.low) & (levels <= scaled.high) & scaled.banded
        split = (scaled.banded & (levels < scaled.low))[row]
        starts = np.where(inside, scaled.high, levels)[row], scaled.low[row[split]], scaled.high[row[split]]
        signs = np.ones(len(row)), np.full(len(starts[1]), -1.0), np.ones(len(starts[1]))
        of_split = column[split], entry[split]
        moved = np.zeros(len(row)) if filled is None else filled.parts - filled.rows[row]
        return Terms(
            len(scaled.basis),
            np.concatenate([column, of_split[0], of_split[0]]),
            np.concatenate([entry, of_split[1], of_split[1]]),
            np.concatenate(starts) + np.concatenate([moved, moved[split], moved[split]]),
            np.concatenate(signs),
        )

    @staticmethod
    def side_by_side(several: Sequence[Terms]) -> Terms:
        """Return the terms of several sets of columns as those of one, one set after the other."""
        starts = np.cumsum([0, *(terms.size for terms in several)])
        return Terms(
            int(starts[-1]),
            np.concatenate([start + terms.column for start, terms in zip(starts[:-1], several, strict=True)]),
            np.concatenate([terms.entry for terms in several]),
            np.concatenate([terms.start for terms in several]),
            np.concatenate([terms.sign for terms in several]),
        )

    def among(self, columns: IntArray) -> Terms:
        """Return the terms of some columns, numbered in their order."""
        place = np.full(self.size, -1)
        place[columns] = np.arange(len(columns))
        at = place[self.column]
        kept = at >= 0
        return Terms(len(columns), at[kept], self.entry[kept], self.start[kept], self.sign[kept])

    def _sum(self, values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(self.column, values, minlength=self.size), dtype=float)

    def _over(self, x: FloatArray) -> FloatArray:
        return np.asarray(np.maximum(self.entry * x[self.column] - self.start, 0.0))

    def value(self, x: FloatArray) -> FloatArray:
        """Return each column's terms at its amount in `x`, shape (n,)."""
        return self._sum(self.sign * self._over(x) ** 2)

    @property
    def curvature(self) -> FloatArray:
        """Return the second derivative of each column's terms beyond all hinges, shape (n,)."""
        return self._sum(2.0 * self.sign * self.entry**2)

    def slopes(self, reduced: FloatArray) -> Callable[[FloatArray], tuple[FloatArray, FloatArray]]:
        """Return what gives the slope of `reduced x + terms(x)` at any `x` and the slope's own on the left of it."""
        pull = 2.0 * self.sign * self.entry
        steeper = pull * self.entry

        def at(x: FloatArray) -> tuple[FloatArray, FloatArray]:
            over = self._over(x)
            return reduced + self._sum(pull * over), self._sum(np.where(over > 0, steeper, 0.0))

        return at

    def least(self, reduced: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
        """Return the least of `reduced x + terms(x)` over [low, high], shape (n,); -inf where there is none."""
        over = self.sign * self._over(low)
        slope, width = reduced + self._sum(2.0 * self.entry * over), np.maximum(high - low, 0.0)
        fall = np.where(slope < 0, slope, 0.0) * np.where(slope < 0, width, 0.0)
        found = reduced * low + self._sum(self.sign * over**2) + fall
        falling = np.flatnonzero(fall < -LITTLE)
        if len(falling):
            found[falling] = self.among(falling)._bracketed(reduced[falling], low[falling], high[falling])
        return np.asarray(found)

    def _bracketed(self, reduced: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
        """Return the least of columns that fall at `low`; what is left of the bracket is paid for by the tangents.

        Newton's method on the slope, piecewise linear; where it takes long, every other step by halves.
        """
        left, right = low, np.maximum(np.minimum(self._beyond(reduced), high), low)
        endless = np.isinf(right)
        right = np.where(endless, low, right)
        slopes = self.slopes(reduced)
        x, falls, climbs = right, slopes(left)[0], np.full(len(low), np.inf)
        for step in range(STEPS):
            slope, curvature = slopes(x)
            left, falls = np.where(slope < 0, x, left), np.where(slope < 0, slope, falls)
            right, climbs = np.where(slope < 0, right, x), np.where(slope < 0, climbs, slope)
            width = right - left
            if not (width * np.minimum(-falls, climbs) > LITTLE).any():
                break
            newton = x - slope / np.where(curvature > 0, curvature, 1.0) - np.where(slope < 0, -BEYOND, BEYOND) * x
            inside = (newton > left) & (newton < right) & (curvature > 0) & ((step < PATIENCE) | (step % 2 == 0))
            x = np.where(inside, newton, left + 0.5 * width)
        from_left = reduced * left + self.value(left) + falls * width
        known = np.isfinite(climbs)
        paid = np.where(known, climbs, 0.0) * width
        from_right = np.where(known, reduced * right + self.value(right) - paid, -np.inf)
        return np.where(endless, -np.inf, np.maximum(from_left, from_right))

    def _beyond(self, reduced: FloatArray) -> FloatArray:
        """Return a point beyond all hinges at or right of the least, infinite where there is none, shape (n,)."""
        curvature = self.curvature
        curved = curvature > 0
        zero = (self._sum(2.0 * self.sign * self.entry * self.start) - reduced) / np.where(curved, curvature, 1.0)
        last = np.zeros(self.size)
        np.maximum.at(last, self.column, self.start / self.entry)
        return np.where(curved, np.maximum(zero, last), np.inf)
