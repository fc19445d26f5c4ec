"""What is worth buying next, as `sourcing` says it: offers one by one, and the best few together."""

from __future__ import annotations

from dataclasses import dataclass

from reaccord.answer.fitted import Fit
from reaccord.answer.judge import Judgement
from reaccord.contract import Status
from reaccord.study.offered import Offer, Offered


@dataclass(frozen=True)
class Poured:
    """A formula: `judged` on the balance's grid, `value` before rounding; none has less than `bound`."""

    judged: Judgement
    value: float
    bound: float
    status: Status


@dataclass(frozen=True)
class Ranked:
    """An offer and the closest formula with it; None where it was let go (no formula with it is below `bound`).

    One that time did not suffice for has neither.
    """

    offer: Offer
    poured: Poured | None
    bound: float

    @property
    def skipped(self) -> bool:
        """Whether it was let go: no formula with it comes among those listed."""
        return self.poured is None and self.bound > 0


@dataclass(frozen=True)
class Purchase:
    """The best `count` purchases; fewer of them, or others, are closer by no more than the gap."""

    count: int
    offers: tuple[Offer, ...]
    poured: Poured


@dataclass(frozen=True)
class Sourcing:
    """`now` is what the shelf alone allows, None where it has no formula; `ranked` best first, those let go last.

    `printed` is what `fit` pours instead of that (`fit.shorten`), None where time did not suffice. `best` are the
    best one, two ... up to `most` purchases together, without those that bring no more than fewer do.
    """

    offered: Offered
    now: Poured | None
    printed: Fit | None
    ranked: tuple[Ranked, ...]
    best: tuple[Purchase, ...]
    most: int
    status: Status
    gap: float

    @property
    def skipped(self) -> int:
        """How many offers were let go by their bound: they gain nothing, or less than those listed."""
        return sum(one.skipped for one in self.ranked)
