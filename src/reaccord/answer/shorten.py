"""A shorter formula for a little closeness: lines are trimmed and merged after the proof, the rest poured anew.

A search, not a proof: the line that costs least goes first. A line left out is a line merged as well where another
bottle brings the same: what is left is solved again. Everything is counted, not timed, so that the same study gives
the same formula.
"""

from __future__ import annotations

import heapq

import numpy as np
from numpy.typing import NDArray

from reaccord.answer.fewer_lines import HELD
from reaccord.contract import NEARLY_ZERO, FloatArray, Programme
from reaccord.solvers.on_columns import closest_on

MOST_WORK = 2_000_000
"""Lines cubed, summed over the formulas solved: some tenths of a second."""


def allowed(value: float, share: float) -> float:
    """Return the deviation that a formula shortened by this share of closeness may have; none is none at any rate."""
    return max(value * (1 + share), NEARLY_ZERO)


def poured(programme: Programme, amounts: FloatArray) -> NDArray[np.intp]:
    """Return the columns (sorted) of a formula (n,), the grams made of its dilutions among them."""
    on = amounts > 0
    for made in programme.made:
        on[made.column] = on[made.stock]
    return np.flatnonzero(on)


def shortened(programme: Programme, amounts: FloatArray, share: float) -> FloatArray | None:
    """Return amounts (n,) of fewer lines that hold every limit, or None if there are none within reach.

    Parameters
    ----------
    programme, amounts
        The programme and its closest amounts, shape (n,), gram.
    share
        By this the deviation may grow, relative; 0 is off.
    """
    if share <= 0:
        return None
    kept = poured(programme, amounts)
    found = _Trimmed(programme.only(kept), amounts[kept], share).run()
    if found is None:
        return None
    whole = np.zeros(len(amounts))
    whole[kept] = found
    return whole


class _Trimmed:
    """A formula over its own columns, line after line left out while what is left is near enough."""

    def __init__(self, programme: Programme, amounts: FloatArray, share: float) -> None:
        self.programme, self.closest_on = programme, closest_on(programme)
        self.most = allowed(programme.value(amounts), share)
        self.noise = max(programme.excess(amounts), HELD)
        self.on = (amounts > 0) & ~programme.helpers
        self.work = 0

    def run(self) -> FloatArray | None:
        """Return the shortest formula come to; None if no line can be spared.

        Whatever a line costs now it will cost later, or more: only the one that seemed cheapest is asked again.
        """
        waiting = [(0.0, int(i), -1) for i in np.flatnonzero(self.on)]
        found: dict[int, FloatArray] = {}
        best, turn = None, 0
        while waiting and self.work < MOST_WORK:
            _, i, asked = heapq.heappop(waiting)
            if asked == turn:
                best, turn = found[i], turn + 1
                self.on[i] = False
            elif (without := self._without(i)) is not None:
                found[i] = without
                heapq.heappush(waiting, (self.programme.value(without), i, turn))
        return best

    def _without(self, i: int) -> FloatArray | None:
        """Return the closest amounts without a line, None if they are not near enough or break a limit."""
        on = self.on.copy()
        on[i] = False
        if not on.any():
            return None
        self.work += int(on.sum()) ** 3
        found = self.closest_on(on, self.most)
        if found is None or self.programme.value(found) > self.most or self.programme.excess(found) > self.noise:
            return None
        return found
