"""Formulas searched by steps side by side: each goes where it would go alone.

A search of one formula spends its time on the calls, hardly on the sums.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reaccord.answer.rounding.grid import BoolArray, Columns, Grid, ahead
from reaccord.contract import FloatArray

CROWDED = 0.75
"""Part of the formulas looked at that are still going; where it is less, the others are put away."""


class _Going(NamedTuple):
    """Formulas on their way, along the last axis: `number` of each, the formula, how far off it is, its rank.

    `left` is what limits leave to it, `least` that of its lines, `moves` how many it has, `doublings` are still to be gone, `rounds` how often it
    was moved at this one, `turns` how often its moves were looked at.
    """

    number: Columns
    here: FloatArray
    off: FloatArray
    left: FloatArray
    least: FloatArray
    excess: FloatArray
    value: FloatArray
    moves: Columns
    doublings: Columns
    rounds: Columns
    turns: Columns


class SideBySide:
    """Formulas over the stocks of a grid, each with moves (m, count) of its own, in gram, that stand side by side.

    `here` (m, F) is where they have come to, `work` the numbers reckoned for each (F,). Limits are asked only of what
    is closer, and of all moves of a formula that does not hold them yet.
    """

    def __init__(self, grid: Grid, formulas: list[FloatArray], moves: list[FloatArray], doublings: list[int]) -> None:
        """Take formulas (m,), what can be added to each at once and how often that is doubled at first."""
        self.grid, self.here, self.work = grid, np.array(formulas).T, np.full(len(formulas), grid.each)
        self._grams = np.concatenate(moves, axis=1)
        self._added, number = grid.off @ self._grams, np.arange(len(formulas))
        counts = np.array([part.shape[1] for part in moves])
        self._going = _Going(
            number, self.here.copy(), grid.off @ self.here, grid.left(self.here), grid.least_moved(self.here),
            *grid.ranks(self.here), counts, np.where(counts > 0, doublings, -1), np.zeros_like(number), np.zeros_like(number),
        )  # fmt: skip

    def follow(self, most_rounds: int) -> None:
        """Go so far as moves lead: 2 to the power of what is left times each, and once in the end."""
        on = self._going.doublings >= 0
        while on.any():
            if on.sum() < CROWDED * len(on):
                self._put_away(on)
            at = self._going
            at.turns[at.doublings >= 0] += 1
            moved = self._moved()
            at.rounds[:] = (at.rounds + 1) * moved
            stuck = ~moved | (at.rounds >= most_rounds)
            at.rounds[stuck] = 0
            at.doublings[stuck] -= 1
            on = at.doublings >= 0
            at.excess[~on] = at.value[~on] = -np.inf  # nothing is ahead of that
        self._put_away(on)

    def _put_away(self, on: BoolArray) -> None:
        """Note where those have come to that go no further."""
        at, away = self._going, ~on
        self.here[:, at.number[away]] = at.here[:, away]
        self.work[at.number[away]] += self.grid.each * (at.turns * at.moves)[away]
        kept = np.repeat(on, at.moves)
        self._grams, self._added = self._grams[:, kept], self._added[:, kept]
        self._going = _Going._make(part[..., on] for part in at)

    def _moved(self) -> BoolArray:
        """Move what is still going once, so many times each, and return which that has brought forward."""
        grid, at = self.grid, self._going
        moved, times = np.zeros(len(at.moves), dtype=bool), np.repeat(2.0 ** np.maximum(at.doublings, 0), at.moves)
        off = self._added * times
        off += np.repeat(at.off, at.moves, axis=1)
        value, held = grid.value(off), at.excess <= 0
        closer = value < np.repeat(np.where(held, at.value, np.inf), at.moves)
        closer &= off[-1] <= np.repeat(np.where(held, at.left[-2] * grid.batch, np.inf), at.moves)
        closer &= off[-1] >= np.repeat(np.where(held, at.left[-1] * -grid.batch, 0.0), at.moves)
        columns = closer.nonzero()[0]
        if not len(columns):
            return moved
        of = np.repeat(np.arange(len(moved)), at.moves)[columns]
        there = at.here[:, of] + self._grams[:, columns] * times[columns]
        value, excess = value[columns], grid.excess(there, at.left[:, of])
        excess[grid.beyond(there, at.least[:, of])] = np.inf
        good = ahead(excess, value, at.excess[of], at.value[of]).nonzero()[0]
        order = good[np.lexsort((value[good], excess[good], of[good]))]
        at_first = np.full(len(moved), -1)
        at_first[of[order[::-1]]] = order[::-1]  # of several for one formula the last one set stays: its best
        gone = (at_first >= 0).nonzero()[0]
        best = at_first[gone]
        at.here[:, gone], at.excess[gone], at.value[gone] = there[:, best], excess[best], value[best]
        at.off[:, gone] = grid.off @ there[:, best]
        moved[gone] = True
        return moved
