"""What one leaf of a certificate proves, in exact arithmetic. Standard library only.

For amounts x (gram) the deviation is

    sum_k f_k distance(y_k, [low_k, high_k])^2,    y_k = content_k @ x / batch,    f_k = factor_squared of the row

Take any level_k >= 0, any mu and any limits' multipliers >= 0. With D(y) = distance(y)^2 and its slope D' = 2
distance, a row of parts u_i = content_ki x_i / batch that are not negative, y = sum_i u_i, has

    D(y) >= D(level) + D'(level) (y - level) + sum_i rise(u_i)
    rise(u) = D(v) - D(level) - D'(level) (v - level),    v = max(u, level)

The right side of the last line as a function of a = v - level is E(a): what D, which is convex, lies above a tangent.
So E is convex, E(0) = 0, E never falls, and E(a) + E(b) <= E(a + b). If y <= level, no part is above the level, all
rises are E(0) = 0, and D lies above its tangent. Else y - level >= sum_i max(0, u_i - level), for the level is no less
than 0 and is taken away once on the left, on the right at least once where anything is left of it; so
E(y - level) >= sum_i E(max(0, u_i - level)). In a row with a negative content the rises are left out, the tangent
stays.

What every formula holds (the batch, the limits) is added with its multiplier: nothing, or nothing positive. What is
left is a number, the `level`, and for each column apart r x + p [x > 0] + its rises (`column`); the least of that over
what x may be is the column's `worth`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from reaccord.certificate.column import Hinge, distance, hinges_of, least
from reaccord.certificate.format import Duals, Problem, Refused
from reaccord.certificate.maxima import Maxima

OFF, FREE, ON = -1, 0, 1
"""A column unused, either, or used (within its minimum and maximum)."""
UNIT = 10**40
"""Bounds are whole numbers of 1 / UNIT, rounded down: that can only lose."""

State = Sequence[int]


def dot(row: Sequence[Fraction], amounts: Sequence[Fraction]) -> Fraction:
    """Return the sum of products."""
    return sum((a * x for a, x in zip(row, amounts, strict=True) if a and x), Fraction(0))


class Leaf:
    """One set of duals worked out: `level`, and each column's `worth` when used, in whole units."""

    def __init__(self, problem: Problem, largest: Maxima, duals: Duals) -> None:
        check_duals(duals)
        level, linear, hinges = _deviation(problem, duals)
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
            floored(least(r, rises, low, high), p)
            for r, rises, p, low, high in zip(linear, hinges, charge, problem.minimum, largest, strict=True)
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


def _deviation(problem: Problem, duals: Duals) -> tuple[Fraction, list[Fraction], list[list[Hinge]]]:
    """Return level, r and hinges of the deviation below its rows' tangents and rises, per gram of each column."""
    level, linear = Fraction(0), [Fraction(0)] * len(problem.basis)
    hinges: list[list[Hinge]] = [[] for _ in linear]
    for row, at in zip(problem.rows, duals.levels, strict=True):
        off = distance(row, at)
        level += row.factor_squared * (off**2 - 2 * off * at)
        slope = 2 * row.factor_squared * off / problem.batch
        parts = hinges_of(row, at, problem.batch) if row.factor_squared and min(row.content, default=0) >= 0 else ()
        for i, c in enumerate(row.content):
            if c:
                linear[i] += slope * c
                hinges[i] += [(start, weight, c) for start, weight in parts]
    return level, linear, hinges


def check_duals(duals: Duals) -> None:
    """Refuse duals for which the argument above would not hold."""
    if any(level < 0 for level in duals.levels):
        raise Refused("the level of a row is below zero.")
    if any(dual < 0 for dual in duals.limits):
        raise Refused("the multiplier of a limit is below zero.")


def floored(least_of: Fraction | float, charge: Fraction) -> int | float:
    """Return the least of a column and its charge in units, rounded down; infinite stays infinite."""
    return least_of if isinstance(least_of, float) else math.floor((least_of + charge) * UNIT)
