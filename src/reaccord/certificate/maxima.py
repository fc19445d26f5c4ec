"""The most of each column that a certificate has to consider, in exact arithmetic. Standard library only.

For a formula that deviates by no more than the one in hand, four arguments:

- with nothing negative in the basis, no column exceeds what fills the batch alone
- with nothing negative in a row, no column alone costs more there than the whole deviation in hand
- a limit leaves to a column what is left if the other columns help as much as they can
- a weaker stock of a material is needed only for what the stronger one is too strong to weigh. If so many gram
  of the stronger one hold exactly the same, load no limit more and may be poured, they stand for the weaker one:
  the deviation stays, and the formula is one that was considered
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction

from reaccord.certificate.format import Numbers, Problem

Maxima = tuple[Fraction | None, ...]
FINE = 10**20


def root_above(value: Fraction) -> Fraction:
    """Return a fraction above the square root, by at most 2e-20."""
    return Fraction(math.isqrt(math.ceil(value * FINE**2)) + 1, FINE)


def largest_of(problem: Problem, value: Fraction) -> Maxima:
    """Return the most of each column to consider, None if unlimited; `value` is that of the formula in hand."""
    largest = list(problem.maximum)
    if all(b >= 0 for b in problem.basis):
        _lower(largest, problem.basis, problem.batch)
    for row in problem.rows:
        if row.factor_squared > 0 and all(c >= 0 for c in row.content):
            _lower(largest, row.content, (row.high + root_above(value / row.factor_squared)) * problem.batch)
    for limit in problem.limits:
        helping = [(a, largest[i]) for i, a in enumerate(limit.amounts) if a < 0]
        help_ = sum((a * most for a, most in helping if most is not None), Fraction(0))
        if all(most is not None for _, most in helping) and all(u >= 0 for u in limit.used):
            _lower(largest, limit.amounts, max(limit.most - help_, Fraction(0)))
    needed = list(largest)
    for strong, weak in _pairs(problem):
        ratio = replaces(problem, strong, weak, largest[weak])
        least = None if ratio is None else problem.minimum[strong] / ratio
        old = needed[weak]
        if least is not None and (old is None or least < old):
            needed[weak] = least
    return tuple(needed)


def _lower(largest: list[Fraction | None], row: Numbers, room: Fraction) -> None:
    for i, entry in enumerate(row):
        old = largest[i]
        if entry > 0 and (old is None or old * entry > room):
            largest[i] = room / entry


def _pairs(problem: Problem) -> Iterator[tuple[int, int]]:
    """Yield two stocks of one material, each the only one of its strength: only then may one replace the other."""
    for strengths in problem.strengths:
        single: Sequence[int] = [columns[0] for columns in strengths if len(columns) == 1]
        yield from ((strong, weak) for weak in single for strong in single if strong != weak)


def replaces(problem: Problem, strong: int, weak: int, most: Fraction | None) -> Fraction | None:
    """Return the gram of `strong` that stand for a gram of `weak` in every respect, up to `most` gram, or None."""
    if not 0 < problem.basis[weak] < problem.basis[strong]:
        return None
    ratio = problem.basis[weak] / problem.basis[strong]
    high = problem.maximum[strong]
    same = all(row.content[strong] * ratio == row.content[weak] for row in problem.rows)
    lighter = all(
        limit.amounts[strong] * ratio <= limit.amounts[weak] and limit.used[strong] <= limit.used[weak]
        for limit in problem.limits
    )
    room = high is None or (most is not None and most * ratio <= high)
    return ratio if same and lighter and room else None
