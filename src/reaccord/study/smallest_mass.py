"""What a balance can weigh."""

from __future__ import annotations

import math
from fractions import Fraction
from functools import lru_cache

from reaccord.domain.settings import BalanceSettings

REPEATABILITY_FLOOR = 0.41
"""Of the readability: the least standard deviation USP General Chapter <41> lets a balance claim."""
EXPANSION = 2.0
"""USP General Chapter <41>: twice the standard deviation is compared with the tolerance."""

_SLACK = 1e-9


def smallest_mass(balance: BalanceSettings) -> float:
    """Return the smallest mass (gram) this balance may be trusted with.

    `minimum_g` where given, `2 max(s, 0.41 d) / tolerance` where a tolerance is given (USP General
    Chapter <41>: with its tolerance of 0.10 % and the floor of s this is 820 d), the larger of both, and
    one step of the readability where neither is.
    """
    candidates = [balance.readability_g]
    if balance.minimum_g is not None:
        candidates.append(balance.minimum_g)
    if balance.tolerance is not None:
        candidates.append(EXPANSION * repeatability(balance) / balance.tolerance)
    return max(candidates)


def repeatability(balance: BalanceSettings) -> float:
    """Return the standard deviation (gram) of one net weighing, no less than 0.41 of the readability."""
    return max(balance.repeatability_g or 0.0, REPEATABILITY_FLOOR * balance.readability_g)


@lru_cache(maxsize=4096)
def exact(grams: float) -> Fraction:
    """Return the decimal a person wrote, not the binary number nearest to it."""
    return Fraction(repr(float(grams)))


def steps_up(grams: float, step: float) -> int:
    """Return the least whole number of steps that makes at least `grams`."""
    return math.ceil(exact(grams) / exact(step) - Fraction(_SLACK))


def steps_down(grams: float, step: float) -> int:
    """Return the largest whole number of steps that makes at most `grams`."""
    return math.floor(exact(grams) / exact(step) + Fraction(_SLACK))


def grams_of(steps: int, step: float) -> float:
    """Return the mass of so many steps as the nearest float to the exact decimal."""
    return float(steps * exact(step))


def on_grid(grams: float, step: float) -> bool:
    """Whether a mass is a whole number of steps."""
    return (exact(grams) / exact(step)).denominator == 1
