"""The least move of a limit that is found to gain what is wanted: a few warm searches, ended as soon as decided."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from reaccord.domain.stock import StockKey
from reaccord.domain.three_figures import three_figures
from reaccord.questions.prices.movable import Movable
from reaccord.questions.prices.nearby import Nearby

ENOUGH = 1.15
"""Times the gain wanted: a move that gains no more is the one, as gains shrink while a limit moves on."""
FINE = 0.15
"""Of the move: where one so much smaller does not gain what is wanted, the other is the one."""
SEARCHES = 8
CENTRAL = 0.1
"""Of what is left, from either end: nearer to them nothing is tried."""
COARSE = 0.25
"""Of the move; where three figures would add more, it is the move that is rounded."""


@dataclass
class _Ends:
    """A move that does not gain what is wanted and one that does; `low` and `high` are what they gain."""

    near: float
    far: float
    low: float
    high: float
    tried: bool = False

    def close(self, movable: Movable, wanted: float) -> bool:
        """Whether the second is the least move, near enough."""
        if movable.whole:
            return abs(self.far - self.near) <= 1
        enough = self.tried and self.high <= ENOUGH * wanted
        return enough or abs(self.far - self.near) <= FINE * abs(self.far - movable.now)

    def between(self, wanted: float, *, whole: bool) -> float:
        """Return the limit to try next."""
        span = self.far - self.near
        part = (wanted - self.low) / max(self.high - self.low, 1e-300)
        tried = self.near + min(max(part, CENTRAL), 1 - CENTRAL) * span
        if not whole:
            return tried
        one = 1 if span > 0 else -1
        return self.near + one * min(max(1, round(abs(tried - self.near))), round(abs(span)) - 1)


def least_move(
    nearby: Nearby, movable: Movable, far: float, high: float, wanted: float
) -> tuple[float, Mapping[StockKey, float] | None]:
    """Return the limit nearest to where it is that gains what is wanted, and a formula that does.

    Parameters
    ----------
    nearby, movable
        What is solved, and the limit.
    far, high
        A limit that gains more, and how much: by so much the deviation falls.
    wanted
        The gain wanted, more than 0.
    """
    ends, formula = _Ends(movable.now, far, 0.0, high), None
    for _ in range(SEARCHES):
        if ends.close(movable, wanted) or nearby.budget.over():
            break
        tried = ends.between(wanted, whole=movable.whole)
        value, reached = nearby.reach(lambda tried=tried: movable.at(tried), nearby.value - wanted)  # type: ignore[misc]
        gain = nearby.value - value
        if reached is None:
            ends.near, ends.low = tried, min(gain, wanted)
        else:
            ends.far, ends.high, ends.tried, formula = tried, gain, True, reached
    limit = ends.far if movable.whole else _rounded(movable.now, ends.far)
    return limit, formula


def _rounded(now: float, far: float) -> float:
    """Return a limit in three figures, moved no less; in as many as its move needs where that would move it on far."""
    up = far > now
    limit = float(three_figures(far, up=up))
    if abs(limit - far) <= COARSE * abs(far - now):
        return limit
    move = three_figures(abs(far - now), up=True)
    return float(f"{now + float(move) * (1 if up else -1):.12g}")
