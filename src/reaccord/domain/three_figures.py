"""A number in three significant figures, rounded to the side on which it still holds."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal


def three_figures(value: float, *, up: bool, slack: float = 1e-9) -> Decimal:
    """Return a number in three figures, never below it (`up`) or never above it.

    What it misses by less than `slack`, relative, is the noise of floats: 0.3 does not become 0.301. A `Decimal`, so
    that `:f` writes its figures, zeros at the end among them.
    """
    if value == 0:
        return Decimal(0)
    step = math.floor(math.log10(abs(value))) - 2
    aside = abs(value) * (-slack if up else slack)
    steps = Decimal(repr(float(value + aside))).scaleb(-step)
    return steps.to_integral_value(ROUND_CEILING if up else ROUND_FLOOR).scaleb(step)
