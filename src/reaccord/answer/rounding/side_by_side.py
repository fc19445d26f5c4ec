"""Several formulas of as many lines searched by steps side by side: each goes where it would go alone.

A search of one formula spends its time on the calls, hardly on the sums.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reaccord.answer.rounding.grid import SLIGHT, BoolArray, Columns, Grid
from reaccord.contract import FloatArray

CROWDED = 0.75
"""Part of the formulas looked at that are still going; where it is less, the others are put away."""


class _Going(NamedTuple):
    """Formulas on their way, arrays along them: `number` of each, the formula, its rank, which lines move between what.

    `grams` (F, lines, count) and `added` (F, rows, count) are what a move adds, `left` the doublings still to be gone,
    `rounds` how often it was moved at this one.
    """

    number: Columns
    here: FloatArray
    excess: FloatArray
    value: FloatArray
    moving: Columns
    low: FloatArray
    high: FloatArray
    grams: FloatArray
    added: FloatArray
    left: Columns
    rounds: Columns

    def only(self, kept: BoolArray) -> _Going:
        """Return some of them."""
        return _Going._make(part[kept] for part in self)


class SideBySide:
    """Formulas (F, m) over the stocks of a grid, the same number of lines of each moved by a pattern (lines, count).

    `here` is where they have come to, `work` the numbers reckoned for each (F,).
    """

    def __init__(
        self, grid: Grid, formulas: FloatArray, moving: Columns, pattern: FloatArray, doublings: Columns
    ) -> None:
        """Take formulas, which of their lines move, (F, lines), and how widely at first; nothing is made of them."""
        self.grid, self.here, self.count = grid, formulas.copy(), pattern.shape[1]
        grams = grid.steps[moving][:, :, None] * pattern
        added = np.ascontiguousarray(grid.per_gram[:, moving].transpose(1, 0, 2)) @ grams
        slack = 1e-9 * grid.steps[moving]
        low, high = (grid.least[moving] - slack)[:, :, None], (grid.maximum[moving] + slack)[:, :, None]
        excess, value = np.array([grid.rank(formula) for formula in formulas]).T
        number, none = np.arange(len(formulas)), np.zeros(len(formulas), dtype=np.intp)
        left = np.where(self.count > 0, doublings, -1)
        self.work = np.full(len(formulas), len(grid.per_gram))
        self._going = _Going(
            number, self.here.copy(), excess.copy(), value.copy(), moving, low, high, grams, added, left, none
        )

    def follow(self, most_rounds: int) -> None:
        """Go so far as moves lead: 2 to the power of what is left times each, and once in the end."""
        on = self._going.left >= 0
        while on.any():
            if on.sum() < CROWDED * len(on):
                self._going, on = self._put_away(on)
            at = self._going
            moved = self._moved(on)
            at.rounds[:] = np.where(moved, at.rounds + 1, 0)
            stuck = ~moved | (at.rounds >= most_rounds)
            at.rounds[stuck] = 0
            at.left[stuck & on] -= 1
            on = at.left >= 0
        self._put_away(on)

    def _put_away(self, on: BoolArray) -> tuple[_Going, BoolArray]:
        """Note where those have come to that go no further; return the others, and that they are going."""
        self.here[self._going.number[~on]] = self._going.here[~on]
        return self._going.only(on), np.ones(int(on.sum()), dtype=bool)

    def _moved(self, on: BoolArray) -> BoolArray:
        """Move what is still going once, so many times each, and return which that has brought forward."""
        grid, at, count = self.grid, self._going, self.count
        times, each = 2.0 ** np.maximum(at.left, 0)[:, None, None], np.arange(len(on))
        there = times * at.grams
        there += np.take_along_axis(at.here, at.moving, axis=1)[:, :, None]
        totals = times * at.added
        totals += grid.per_gram @ at.here[:, :, None] + grid.once @ (at.here[:, :, None] > 0)
        totals = totals.transpose(1, 0, 2).reshape(len(grid.per_gram), -1)
        excess, value = grid.excess(totals).reshape(-1, count), grid.value(totals).reshape(-1, count)
        self.work[at.number[on]] += len(totals) * count
        excess[~((there >= at.low) & (there <= at.high)).all(axis=1)] = np.inf
        least = excess.min(axis=1)
        value = np.where(excess == least[:, None], value, np.inf)
        nearest = value.argmin(axis=1)
        value = value[each, nearest]
        moved: BoolArray = (least < at.excess * (1 - 1e-9)) | ((least <= at.excess) & (value < at.value * (1 - SLIGHT)))
        moved &= on
        gone = moved.nonzero()[0]
        at.here[gone[:, None], at.moving[gone]] = there[gone, :, nearest[gone]]
        at.excess[gone], at.value[gone] = least[gone], value[gone]
        return moved
