"""What answers to a blind test prove: exact binomial probabilities, critical numbers, and what could have been found.

Of `n` assessments a chance `guess` is right by luck: 1/3 in a triangle test (ISO 4120), 1/2 in a paired comparison
(ISO 5495). Where a share `discriminators` of them can tell the samples and the others guess,

    P(right) = discriminators + (1 - discriminators) guess.

The least such share that a test finds with a power `1 - miss` is where `P(X >= critical) = 1 - miss`; the tail of the
binomial is the regularised incomplete beta function, so its inverse gives that share outright.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scipy.special import bdtrc, betaincinv

Test = Literal["triangle", "paired"]
GUESS: dict[Test, float] = {"triangle": 1 / 3, "paired": 1 / 2}
SERVED: dict[Test, int] = {"triangle": 3, "paired": 2}
"""Vials before each assessor."""
LEVEL, MISS = 0.05, 0.20
"""Risk of finding a difference that is none, and of missing one (common practice, no source)."""
SHARES = (0.5, 0.3, 0.2)
"""Shares of discriminators for which the assessors needed are told: large, medium and small differences."""
MOST = 10_000
_ROUNDING = 1 + 1e-12


@dataclass(frozen=True)
class Rule:
    """How right answers are judged: the chance of a lucky one, and whether either sample may win (paired alone)."""

    test: Test
    two_sided: bool = False
    level: float = LEVEL
    miss: float = MISS

    @property
    def guess(self) -> float:
        """The chance of a right answer by luck."""
        return GUESS[self.test]

    @property
    def tail(self) -> float:
        """The risk in one tail."""
        return self.level / 2 if self.two_sided else self.level

    def probability(self, right: int, n: int) -> float:
        """Return the chance of so many right answers or more (of so uneven ones or more) if all guess."""
        if self.two_sided:
            return min(1.0, 2 * _at_least(max(right, n - right), n, self.guess))
        return _at_least(right, n, self.guess)

    def critical(self, n: int) -> int | None:
        """Return the least right answers that prove a difference; None where even all of them do not."""
        return next((c for c in range(n + 1) if _at_least(c, n, self.guess) <= self.tail * _ROUNDING), None)

    def power(self, n: int, discriminators: float) -> float:
        """Return the chance to find a difference that this share of assessors can tell."""
        critical = self.critical(n)
        if critical is None:
            return 0.0
        right = discriminators + (1 - discriminators) * self.guess
        return _at_least(critical, n, right)

    def detectable(self, n: int) -> float | None:
        """Return the least share of discriminators that would be found at the wanted power; None: none would."""
        critical = self.critical(n)
        if critical is None:
            return None
        right = float(betaincinv(critical, n - critical + 1, 1 - self.miss))
        return max(0.0, (right - self.guess) / (1 - self.guess))

    def needed(self, discriminators: float, orders: int) -> int | None:
        """Return the assessors needed to find such a share, in rounds of so many orders; None beyond 10,000.

        The power goes up in a saw: the least number from which on every larger one suffices.
        """
        short = 0
        for n in range(orders, MOST + 1, orders):
            if self.power(n, discriminators) < 1 - self.miss:
                short = n
            elif n >= 2 * short + 10 * orders:
                return short + orders
        return None

    def most_discriminators(self, right: int, n: int) -> float:
        """Return the largest share of discriminators that these answers agree with (Clopper and Pearson 1934)."""
        if right >= n:
            return 1.0
        upper = float(betaincinv(right + 1, n - right, 1 - self.level))
        return max(0.0, (upper - self.guess) / (1 - self.guess))


def _at_least(right: int, n: int, chance: float) -> float:
    """Return P(X >= right) for X binomial."""
    return 1.0 if right <= 0 else float(bdtrc(right - 1, n, chance))
