"""A shorter formula for a little closeness: lines are trimmed and merged after the proof, the rest poured anew.

A search, not a proof: the line that costs least goes first. A line left out is a line merged as well where another
bottle brings the same: what is left is solved again. Everything is counted, not timed, so that the same study gives
the same formula.
"""

from __future__ import annotations

import heapq
from functools import cached_property
from typing import NamedTuple

import numpy as np

from reaccord.answer.amounts import with_helpers
from reaccord.answer.fewer_lines import HELD
from reaccord.answer.rounding import round_amounts, value_reached
from reaccord.answer.rounding.wider import LITTLE
from reaccord.contract import NEARLY_ZERO, FloatArray, Programme
from reaccord.solvers.at_least import at_least
from reaccord.solvers.on_columns import OnColumns, closest_on

MOST_WORK = 100_000_000
"""Lines cubed, summed over the formulas solved: some tenths of a second."""
EACH = {"squares": 100_000, "absolute": 1_500_000, "worst": 1_500_000}
"""What a formula costs beside: HiGHS takes longer to begin."""

CLEARLY = 1e-6
"""Relative; a bound that is above what is allowed by less decides nothing."""


class Shorter(NamedTuple):
    """A shorter formula: `amounts` (n,) in gram, `on_grid` the same lines rounded.

    `programme` and `closest` (n,) are what it was made from, `share` what it may be less close by, relative.
    """

    programme: Programme
    closest: FloatArray
    amounts: FloatArray
    on_grid: FloatArray
    share: float

    @property
    def near(self) -> bool:
        """Whether rounding it cost little, so that the closest formula need not be rounded beside it."""
        most = allowed(self.programme.value(self.closest), self.share)
        return value_reached(self.programme, self.on_grid) <= most * (1 + LITTLE)

    def instead_of(self, rounded: FloatArray) -> bool:
        """Whether it is shorter than the closest formula on the grid (n,), and near enough to it."""
        stocks = ~self.programme.helpers
        if int((self.on_grid[stocks] > 0).sum()) >= int((rounded[stocks] > 0).sum()):
            return False
        most = allowed(value_reached(self.programme, rounded), self.share)
        return value_reached(self.programme, self.on_grid) <= most


def allowed(value: float, share: float) -> float:
    """Return the deviation of a formula that gives up this share of closeness; what counts as none always may be."""
    return max(value * (1 + share), NEARLY_ZERO)


def shorter_than(programme: Programme, amounts: FloatArray, share: float) -> Shorter | None:
    """Return a formula of fewer lines that holds every limit, before and after rounding; None if none is in reach.

    Parameters
    ----------
    programme, amounts
        The programme and its closest amounts, shape (n,), gram.
    share
        By this the deviation may grow, relative; 0 is off.
    """
    if share <= 0:
        return None
    kept = np.flatnonzero(with_helpers(programme, amounts > 0))
    short = _Trimmed(programme.only(kept), amounts[kept], share).run()
    if short is None:
        return None
    whole = np.zeros(len(amounts))
    whole[kept] = short
    rounded = round_amounts(programme, whole)
    return None if rounded is None else Shorter(programme, amounts, whole, rounded, share)


class _Trimmed:
    """A formula over its own columns, line after line left out while what is left is near enough."""

    def __init__(self, programme: Programme, amounts: FloatArray, share: float) -> None:
        self.programme, self.at_least = programme, at_least(programme, amounts)
        self.most = allowed(programme.value(amounts), share)
        self.noise = max(programme.excess(amounts), HELD)
        self.amounts, self.on = amounts, (amounts > 0) & ~programme.helpers
        self.work, self.others = 0, int(self.on.sum()) - 1

    @cached_property
    def closest_on(self) -> OnColumns:
        return closest_on(self.programme)

    def run(self) -> FloatArray | None:
        """Return the shortest formula come to; None if no line can be spared.

        Whatever a line costs now it will cost later, or more: only the one that seemed cheapest is asked again. The
        smallest come first where there is no time for all.
        """
        brings = self.programme.basis * self.amounts
        order = sorted(np.flatnonzero(self.on), key=lambda i: float(brings[i]))
        waiting = [(0.0, place, -1) for place in range(len(order))]
        found: dict[int, FloatArray] = {}
        best, turn = None, 0
        while waiting and self.work < MOST_WORK:
            _, place, asked = heapq.heappop(waiting)
            if asked == turn:
                best, turn = found[place], turn + 1
                self.on[order[place]] = False
                self.others -= 1
            elif (without := self._without(int(order[place]))) is not None:
                found[place] = without
                heapq.heappush(waiting, (self.programme.value(without), place, turn))
        return best

    def _without(self, i: int) -> FloatArray | None:
        """Return the closest amounts without a line, None if they are not near enough or break a limit."""
        if not self.others:
            return None
        self.work += self.others**3 + EACH[self.programme.measure]
        if self.at_least.without(i) > self.most * (1 + CLEARLY):  # most end here, and nobody asks for them again
            return None
        on = self.on.copy()
        on[i] = False
        if self.at_least(with_helpers(self.programme, on.copy())) > self.most * (1 + CLEARLY):
            return None
        found = self.closest_on(on, self.most)
        if found is None or self.programme.value(found) > self.most or self.programme.excess(found) > self.noise:
            return None
        return found
