"""The multiplier of a lines limit that suits a state best: the worth of the best column that finds no place."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from reaccord.certificate.format import Duals, Problem
from reaccord.certificate.leaf import FREE, ON, UNIT, Leaf, State
from reaccord.certificate.maxima import Maxima


def counting(problem: Problem) -> int | None:
    """Return the limit that counts columns and nothing else, if there is one."""
    for k, limit in enumerate(problem.limits):
        charges = {u for u in limit.used if u}
        if len(charges) == 1 and min(charges) > 0 and not any(limit.amounts):
            return k
    return None


def suited(problem: Problem, largest: Maxima, state: State, duals: Duals) -> Iterator[Duals]:
    """Yield the duals as they are, and with the multiplier of lines that proves most (several lots: a guess)."""
    row = counting(problem)
    if row is None or any(len(columns) > 1 for strengths in problem.strengths for columns in strengths):
        yield duals
    if row is None:
        return
    limits = list(duals.limits)
    limits[row] = Fraction(0)
    worth = Leaf(problem, largest, replace(duals, limits=tuple(limits))).worth
    limit = problem.limits[row]
    charge = max(limit.used)
    counted = [i for i, u in enumerate(limit.used) if u]
    places = math.floor(limit.most / charge) - sum(state[i] == ON for i in counted)
    gain = {i: min(worth[i], 0) for i in counted if state[i] == FREE}
    wanted = sorted(_one_each(problem, gain))
    if 0 <= places < len(wanted) and math.isfinite(wanted[places]):
        limits[row] = Fraction(-int(wanted[places]), UNIT) / charge
    yield replace(duals, limits=tuple(limits))


def _one_each(problem: Problem, gain: dict[int, int | float]) -> list[int | float]:
    """Return what each material gains by its best column, of materials with several strengths."""
    single = dict(gain)
    best = []
    for strengths in problem.strengths:
        best.append(min((single.pop(i, 0) for columns in strengths for i in columns), default=0))
    return [*single.values(), *best]
