"""A solver's amounts moved so that they hold every limit exactly, in fractions.

What lies at its minimum or maximum is put there; rows that are full (the batch always) are solved as equations for
as many amounts between their ends, by elimination in fractions; the rest keeps its decimals.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from reaccord.certificate.format import Numbers, Problem
from reaccord.certificate.leaf import dot
from reaccord.certificate.verify import excess_of

NEAR = (Fraction(1, 10**8), Fraction(1, 10**10), Fraction(1, 10**12), Fraction(0))
"""How near to its end an amount, to its most a row, counts as being there: the first that works is taken."""
PLACES = 13
"""Digits an amount keeps."""

Equation = tuple[Numbers, Fraction]


def repair(problem: Problem, amounts: Sequence[float]) -> Numbers:
    """Return the amounts moved to hold all limits exactly, or those of all tries that miss them least."""
    start = [Fraction(f"{x:.{PLACES}e}") if x > 0 else Fraction(0) for x in amounts]
    tries = [_repaired(problem, start, near) for near in NEAR]
    return min(tries, key=lambda found: excess_of(problem, found))  # the first of equals


def _repaired(problem: Problem, start: Sequence[Fraction], near: Fraction) -> Numbers:
    amounts, between = list(start), []
    for i, (x, low, high) in enumerate(zip(start, problem.minimum, problem.maximum, strict=True)):
        if x <= 0:
            continue
        if x - low <= near * problem.batch and low > 0:
            amounts[i] = low
        elif high is not None and high - x <= near * problem.batch:
            amounts[i] = high
        else:
            between.append(i)
    used = [Fraction(x > 0) for x in amounts]
    equations: list[Equation] = [(problem.basis, problem.batch)]
    for limit in problem.limits:
        most = limit.most - dot(limit.used, used)
        size = abs(most) + dot([abs(a) for a in limit.amounts], amounts)
        if most - dot(limit.amounts, amounts) <= near * size and any(limit.amounts[i] for i in between):
            equations.append((limit.amounts, most))
    for i, step in _steps(equations, amounts, between):
        amounts[i] += step
    return tuple(amounts)


def _steps(
    equations: Sequence[Equation], amounts: Sequence[Fraction], between: Sequence[int]
) -> list[tuple[int, Fraction]]:
    """Return by how much some amounts must move for every equation to hold; one amount for each equation."""
    rows = [([row[i] for i in between], right - dot(row, amounts)) for row, right in equations]
    pivots: list[tuple[int, int]] = []
    for k in range(len(rows)):
        entries, right = rows[k]
        free = [j for j in range(len(between)) if all(j != taken for _, taken in pivots)]
        # a big amount has room to move
        at = max(free, key=lambda j: abs(entries[j]) * amounts[between[j]], default=None)
        if at is None or entries[at] == 0:
            continue
        pivot = entries[at]
        rows[k] = [entry / pivot for entry in entries], right / pivot
        for other in range(len(rows)):
            factor = rows[other][0][at]
            if other != k and factor:
                mixed = [a - factor * b for a, b in zip(rows[other][0], rows[k][0], strict=True)]
                rows[other] = mixed, rows[other][1] - factor * rows[k][1]
        pivots.append((k, at))
    return [(between[at], rows[k][1]) for k, at in pivots]
