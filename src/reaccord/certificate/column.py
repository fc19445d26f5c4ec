"""The least that one column can cost in a leaf, in exact arithmetic. Standard library only.

A column costs r x and the rises of its rows (see `leaf`). With H(a) = max(0, u - a)^2, u = c x its part, a rise is

    H(level)                         level > high, or low = high
    H(high)                          low <= level <= high
    H(level) - H(low) + H(high)      level < low

as D(v) is (v - high)^2 above the band, (v - low)^2 below it, and 0 inside. The sum is convex in x, its slope piecewise
linear: the piece in which the slope changes its sign is found by halves, and there the least is exact.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from reaccord.certificate.format import Row

Hinge = tuple[Fraction, Fraction, Fraction]
"""Where it starts, its weight (below zero: taken away), the content c of the column: weight max(0, c x - start)^2."""


def distance(row: Row, achieved: Fraction) -> Fraction:
    """Return the signed distance of a share from the row's band."""
    return achieved - min(max(achieved, row.low), row.high)


def hinges_of(row: Row, level: Fraction, batch: Fraction) -> tuple[tuple[Fraction, Fraction], ...]:
    """Return start, in gram of the row's constituents, and weight of the hinges of a row's rises."""
    weight = row.factor_squared / batch**2
    if row.low == row.high or level > row.high:
        return ((level * batch, weight),)
    if level >= row.low:
        return ((row.high * batch, weight),)
    return (level * batch, weight), (row.low * batch, -weight), (row.high * batch, weight)


def least(r: Fraction, hinges: Sequence[Hinge], low: Fraction, high: Fraction | None) -> Fraction | float:
    """Return the least of `r x` and the hinges over [low, high].

    Infinite if nothing lies between `low` and `high`, minus infinite if there is no end to it.
    """
    if high is not None and high < low:
        return math.inf
    if _slope(r, hinges, low) >= 0:
        return _value(r, hinges, low)
    kinks = sorted({start / c for start, _, c in hinges if start > c * low and (high is None or start < c * high)})
    ends = [low, *kinks] if high is None else [low, *kinks, high]
    if _slope(r, hinges, ends[-1]) <= 0:
        if high is not None:
            return _value(r, hinges, high)
        bend = sum((weight * c * c for _, weight, c in hinges), Fraction(0))
        if bend <= 0:
            return -math.inf
        return _value(r, hinges, ends[-1] - _slope(r, hinges, ends[-1]) / (2 * bend))
    before, after = 0, len(ends) - 1
    while after - before > 1:
        middle = (before + after) // 2
        before, after = (middle, after) if _slope(r, hinges, ends[middle]) < 0 else (before, middle)
    left, right = ends[before], ends[after]
    falls, climbs = _slope(r, hinges, left), _slope(r, hinges, right)
    return _value(r, hinges, left + (right - left) * falls / (falls - climbs))


def _slope(r: Fraction, hinges: Sequence[Hinge], x: Fraction) -> Fraction:
    parts = ((start, weight, c, c * x) for start, weight, c in hinges)
    return r + 2 * sum((weight * c * (u - start) for start, weight, c, u in parts if u > start), Fraction(0))


def _value(r: Fraction, hinges: Sequence[Hinge], x: Fraction) -> Fraction:
    parts = ((start, weight, c * x) for start, weight, c in hinges)
    return r * x + sum((weight * (u - start) ** 2 for start, weight, u in parts if u > start), Fraction(0))
