"""Stocks that can have no part in a named amount: no number of their steps makes it.

Of 1.005 g a balance that reads to 0.01 g can weigh nothing, but 10.05 g of a tenth solution are no trouble.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from functools import reduce

import numpy as np

from reaccord.answer.rounding.grid import Columns
from reaccord.contract import FloatArray, LimitRow, Programme
from reaccord.programme import AMOUNT
from reaccord.study.smallest_mass import exact

OFF_GRID = "off grid"
"""What the limits that keep such stocks out are called."""


def without_off_grid(programme: Programme, steps: FloatArray) -> Programme | None:
    """Return the programme with a limit for each such material, or None if there is none. `steps` (n,) in gram."""
    none = np.zeros(len(programme.columns))
    rows = tuple(
        LimitRow(OFF_GRID, label, f"{label} at a strength whose whole steps make that amount", none, useless, 0.0)
        for label, useless in _useless(programme, steps)
    )
    return replace(programme, limits=(*programme.limits, *rows)) if rows else None


def _useless(programme: Programme, steps: FloatArray) -> Iterator[tuple[str, FloatArray]]:
    """Yield materials and which of their stocks (n,) have no number of steps between the least and the most asked.

    Several lots of one strength may be poured, so that the common measure of their steps counts.
    """
    for name, strengths, least, most in _amounts(programme):
        useless = np.zeros(len(strengths))
        for strength in np.unique(strengths[strengths > 0]):
            stocks = np.flatnonzero(strengths == strength)
            if (steps[stocks] > 0).all() and not _between(stocks, float(strength), steps, least, most):
                useless[stocks] = 1.0
        if useless.any():
            yield name, useless


def _between(stocks: Columns, strength: float, steps: FloatArray, least: float, most: float) -> bool:
    neat = reduce(_common, (exact(strength) * exact(steps[i]) for i in stocks))
    return math.ceil(exact(least) / neat) * neat <= (exact(most) if math.isfinite(most) else math.inf)


def _common(one: Fraction, other: Fraction) -> Fraction:
    """Return the greatest common measure of two masses."""
    whole = math.gcd(one.numerator * other.denominator, other.numerator * one.denominator)
    return Fraction(whole, one.denominator * other.denominator)


def _amounts(programme: Programme) -> Iterator[tuple[str, FloatArray, float, float]]:
    """Yield materials, the strengths (n,) of their stocks, and the least and the most neat material asked, in gram."""
    rows = [row for row in programme.limits if row.limit.startswith(AMOUNT)]
    for row in rows:
        if row.most < 0:
            mosts = [other.most for other in rows if other.limit == row.limit and other.most > 0]
            yield row.limit.removeprefix(AMOUNT), -row.amounts, -row.most, min(mosts, default=math.inf)
