"""Terms of single columns that a sum of squares is never below: `sum_j weight_j max(0, content_ji x_i - level_j)^2`.

With parts `u_i = content_ji x_i >= 0` of a share row's content `s = sum_i u_i` and any `level >= 0`,

    s^2 >= 2 level s - level^2 + sum_i max(0, u_i - level)^2

since `s - level` is at least the sum of the `u_i - level` that are positive. Level 0 gives `sum_i u_i^2`.
"""

from __future__ import annotations

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.scaled import Scaled

STEPS = 100


class Terms:
    """The terms of every column; `weights` (K,) and `levels` (K,) of one or more statements of the rows."""

    def __init__(self, scaled: Scaled, *statements: tuple[FloatArray, FloatArray]) -> None:
        row, column, entry = scaled.entries
        self._size = len(scaled.basis)
        kept = [weights[row] > 0 for weights, _ in statements]
        self._column = np.concatenate([column[k] for k in kept])
        self._entry = np.concatenate([entry[k] for k in kept])
        self._weight = np.concatenate([weights[row[k]] for k, (weights, _) in zip(kept, statements, strict=True)])
        self._level = np.concatenate([levels[row[k]] for k, (_, levels) in zip(kept, statements, strict=True)])
        self._pull = self._weight * self._entry
        self.curved = np.zeros(self._size, dtype=bool)
        self.curved[self._column] = True

    def _sum(self, values: FloatArray) -> FloatArray:
        return np.bincount(self._column, values, minlength=self._size).astype(float)

    def _over(self, x: FloatArray) -> FloatArray:
        return np.asarray(np.maximum(self._entry * x[self._column] - self._level, 0.0))

    def value(self, x: FloatArray) -> FloatArray:
        """Return each column's terms at its amount in `x`, shape (n,)."""
        return self._sum(self._weight * self._over(x) ** 2)

    def least(self, reduced: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
        """Return the least of `reduced x + terms(x)` over [low, high], shape (n,); -inf where there is none.

        Newton's method from the right: the derivative is increasing, convex and piecewise linear, so the steps
        end at its zero; should they not, the tangent there pays for the rest.
        """
        x = self._right(reduced, low, high)
        endless = np.isinf(x)
        x[endless] = low[endless]
        for _ in range(STEPS):
            over = self._over(x)
            derivative = reduced + self._sum(2.0 * self._pull * over)
            curvature = self._sum(2.0 * self._pull * self._entry * (over > 0))
            step = np.where(curvature > 0, derivative / np.where(curvature > 0, curvature, 1.0), np.inf)
            lower = np.where(derivative > 0, np.maximum(x - step, low), x)
            moved = x - lower > 1e-15 * x
            if not moved.any():
                break
            x = np.where(moved, lower, x)
        rest = np.where(moved, np.maximum(derivative, 0.0) * (x - low), 0.0)
        return np.where(endless & (reduced < 0), -np.inf, reduced * x + self.value(x) - rest)

    def _right(self, reduced: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
        """Return a point at or right of the least, not beyond `high`, shape (n,)."""
        curvature = self._sum(2.0 * self._pull * self._entry)
        curved = curvature > 0
        zero = (self._sum(2.0 * self._pull * self._level) - reduced) / np.where(curved, curvature, 1.0)
        last = np.zeros(self._size)
        np.maximum.at(last, self._column, self._level / self._entry)
        flat = np.where(reduced < 0, np.inf, 0.0)
        return np.clip(np.where(curved, np.maximum(zero, last), flat), low, high)
