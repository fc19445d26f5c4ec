"""What one leaf of a certificate proves, in exact arithmetic. Standard library only.

For amounts x (gram) the deviation is

    sum_k f_k distance(y_k, [low_k, high_k])^2,    y_k = content_k @ x / batch,    f_k = factor_squared of the row

Take any point, any theta_k from 0 to 1, any mu and any limits' multipliers >= 0. A squared distance lies above
its tangent at the point. For a row with a share (low = high) and no negative content the part theta_k f_k y_k^2 is
replaced by theta_k f_k sum_i (content_ki x_i / batch)^2 first: never more, since contents and amounts are not
negative. What every formula holds (the batch, the limits) is added with its multiplier: nothing, or nothing
positive. What is left is a number, the `level`, and for each column apart r x + d x^2 + p [x > 0]; the least of
that over what x may be is the column's `worth`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from reaccord.certificate.format import Duals, Problem, Refused, Row
from reaccord.certificate.maxima import Maxima

OFF, FREE, ON = -1, 0, 1
"""A column unused, either, or used (within its minimum and maximum)."""
UNIT = 10**40
"""Bounds are whole numbers of 1 / UNIT, rounded down: that can only lose."""

State = Sequence[int]


def dot(row: Sequence[Fraction], amounts: Sequence[Fraction]) -> Fraction:
    """Return the sum of products."""
    return sum((a * x for a, x in zip(row, amounts, strict=True) if a and x), Fraction(0))


def distance(row: Row, achieved: Fraction) -> Fraction:
    """Return the signed distance of a share from the row's band."""
    return achieved - min(max(achieved, row.low), row.high)


class Leaf:
    """One set of duals worked out: `level`, and each column's `worth` when used, in whole units."""

    def __init__(self, problem: Problem, largest: Maxima, duals: Duals) -> None:
        check_duals(problem, duals)
        level, linear, curved = _deviation(problem, duals)
        level += duals.mu * problem.batch
        linear = [r - duals.mu * b for r, b in zip(linear, problem.basis, strict=True)]
        charge = [Fraction(0)] * len(linear)
        for limit, dual in zip(problem.limits, duals.limits, strict=True):
            if dual:
                level -= dual * limit.most
                linear = [r + dual * a if a else r for r, a in zip(linear, limit.amounts, strict=True)]
                charge = [p + dual * u if u else p for p, u in zip(charge, limit.used, strict=True)]
        self.level = math.floor(level * UNIT)
        self.linear = linear
        self.worth = [
            worth_of((r, d, p), low, high)
            for r, d, p, low, high in zip(linear, curved, charge, problem.minimum, largest, strict=True)
        ]

    def bound(self, problem: Problem, state: State) -> int | float:
        """Return what is proven for the formulas within a state, in units; infinite if there are none."""
        cost = [0 if s == OFF else w if s == ON else min(w, 0) for s, w in zip(state, self.worth, strict=True)]
        if math.inf in cost:
            return math.inf
        if -math.inf in cost:
            return 0  # squares are never negative
        total = self.level + sum(cost)
        for strengths in problem.strengths:
            sums = [sum(cost[i] for i in columns) for columns in strengths]
            opened = [k for k, columns in enumerate(strengths) if any(state[i] == ON for i in columns)]
            if len(opened) > 1:
                return math.inf
            total += (sums[opened[0]] if opened else min(sums, default=0)) - sum(sums)
        return max(0, total)


def _deviation(problem: Problem, duals: Duals) -> tuple[Fraction, list[Fraction], list[Fraction]]:
    """Return level, r and d of the deviation below its tangent and its separable part."""
    batch = problem.batch
    level, linear, curved = Fraction(0), [Fraction(0)] * len(problem.basis), [Fraction(0)] * len(problem.basis)
    for row, theta in zip(problem.rows, duals.theta, strict=True):
        achieved = dot(row.content, duals.point) / batch
        off = distance(row, achieved)
        level += row.factor_squared * (off**2 - 2 * off * achieved + theta * achieved**2)
        slope = 2 * row.factor_squared * (off - theta * achieved) / batch
        bend = theta * row.factor_squared / batch**2
        for i, c in enumerate(row.content):
            if c:
                linear[i] += slope * c
                curved[i] += bend * c * c
    return level, linear, curved


def check_duals(problem: Problem, duals: Duals) -> None:
    """Refuse duals for which the argument above would not hold."""
    if any(x < 0 for x in duals.point):
        raise Refused("an amount of a point is below zero.")
    if any(dual < 0 for dual in duals.limits):
        raise Refused("the multiplier of a limit is below zero.")
    for row, theta in zip(problem.rows, duals.theta, strict=True):
        if not 0 <= theta <= 1:
            raise Refused(f'theta of the row "{row.label:.60}" is not from 0 to 1.')
        if theta and (row.low < row.high or any(c < 0 for c in row.content)):
            raise Refused(f'theta of the row "{row.label:.60}" must be 0: it is a band or has a negative content.')


def worth_of(terms: tuple[Fraction, Fraction, Fraction], low: Fraction, high: Fraction | None) -> int | float:
    """Return the least of `r x + d x^2 + p` over [low, high], d >= 0, in units rounded down.

    Infinite if nothing lies between `low` and `high`, minus infinite if there is no end to it.
    """
    r, d, p = terms
    if high is not None and high < low:
        return math.inf
    if d:
        at = max(low, -r / (2 * d))
    elif r >= 0:
        at = low
    elif high is None:
        return -math.inf
    else:
        at = high
    at = at if high is None else min(at, high)
    return math.floor((r * at + d * at * at + p) * UNIT)
