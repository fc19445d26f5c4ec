"""Where every row stands beside what it should be, as positions on one scale: square roots, so that traces show too."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from reaccord.answer.judge import Residual

WIDTH = 300.0
"""Units from nothing to the largest share."""
TICKS = (0.0005, 0.005, 0.02, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0)
CLOSE = 26.0
"""Units: a tick nearer than this to the one before it bears no number."""


class Drawn(NamedTuple):
    """One row: how far the bar of what is reached goes, where the mark of a share or the ends of a band are."""

    bar: float
    mark: float | None
    band: tuple[float, float] | None


class Tick(NamedTuple):
    """A share on the scale; without a label where the one before is near."""

    place: float
    label: str


class Scale:
    """Places of shares: the square root, the largest share at the right end."""

    def __init__(self, residuals: Sequence[Residual]) -> None:
        shares = [max(r.achieved, r.row.low if r.row.band else r.row.share) for r in residuals]
        self.top = max(shares, default=0.0) or 1.0

    @classmethod
    def up_to(cls, top: float) -> Scale:
        """Return a scale that ends there."""
        scale = cls(())
        scale.top = top
        return scale

    def place(self, share: float) -> float:
        """Return where a share stands; what is beyond the end stands at it."""
        return round(WIDTH * math.sqrt(min(max(share, 0.0), self.top) / self.top), 1)

    def ticks(self, close: float = CLOSE) -> list[Tick]:
        """Return the ticks of the scale, in percent; one nearer than `close` to the one before bears no number."""
        found, before = [], 0.0
        for share in TICKS:
            if share > self.top:
                break
            place = self.place(share)
            found.append(Tick(place, f"{share * 100:g}" if place - before >= close else ""))
            before = place if place - before >= close else before
        return found

    def drawn(self, r: Residual) -> Drawn:
        """Return a row's bar and marks."""
        if r.row.band:
            return Drawn(self.place(r.achieved), None, (self.place(r.row.low), self.place(r.row.high)))
        wanted = r.kind == "named"
        return Drawn(self.place(r.achieved), self.place(r.row.share) if wanted else None, None)
