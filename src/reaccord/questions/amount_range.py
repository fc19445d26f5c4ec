"""How little and how much of a material the formulas within a deviation pour: both ends proven."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from reaccord.contract import Budget, FloatArray, LimitRow, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.study import Study
from reaccord.questions.epsilon_constraint import Descent, Least, allowed
from reaccord.solvers.decide import decide

GAP = 0.01
"""Relative; to this the ends are found, unless a wider gap is asked for."""
INSIDE = 0.999
"""Of the least that is known: where the last question is asked first."""


@dataclass(frozen=True)
class AmountRange:
    """Gram of neat material: formulas with `least_g` and `most_g` are known, none lies outside the bounds.

    Where the bounds are no farther from the ends than was asked for, `proven` is true.
    """

    material: str
    least_g: float
    most_g: float
    least_bound_g: float
    most_bound_g: float
    proven: bool


class _Least:
    """A programme with at most so much of a material."""

    def __init__(self, programme: Programme, neat: FloatArray) -> None:
        self.programme, self.neat = programme, neat

    def quantity(self, amounts: FloatArray) -> float:
        """Return the neat gram."""
        return float(self.neat @ amounts)

    def at(self, ceiling: float) -> Programme:
        """Return the programme with at most so many gram."""
        return _limited(self.programme, self.neat, ceiling)


class _Most(_Least):
    """A programme with at least so much of a material; the quantity is the most there could be over what there is."""

    def __init__(self, programme: Programme, neat: FloatArray, most: float) -> None:
        super().__init__(programme, neat)
        self.most = most

    def quantity(self, amounts: FloatArray) -> float:
        """Return how many times more there could be."""
        grams = float(self.neat @ amounts)
        return math.inf if grams <= 0 else self.most / grams

    def at(self, ceiling: float) -> Programme:
        """Return the programme with at least so much."""
        return _limited(self.programme, -self.neat, -self.most / ceiling)


def _limited(programme: Programme, neat: FloatArray, most: float) -> Programme:
    key = LimitKey("lines", ("amount",))
    row = LimitRow(key, "amount", "so much of a material", neat, np.zeros(len(neat)), most)
    return replace(programme, limits=(*programme.limits, row))


def amount_range(
    study: Study, programme: Programme, material: str, within: float, formulas: Iterable[FloatArray], deadline: Budget
) -> AmountRange:
    """Return the range of a material among the formulas with a deviation of at most `within`.

    `formulas` (n,) are known ones, one of which pours the material; `deadline.warm` is of the programme.
    """
    neat = np.zeros(len(programme.columns))
    for i, stock in enumerate(study.stocks):
        neat[i] = stock.key.strength if stock.key.material == material else 0.0
    known = sorted(formulas, key=lambda amounts: float(neat @ amounts))
    asked = replace(deadline, gap=max(GAP, deadline.gap))
    low = _least(_Least(programme, neat), within, known[0], asked)
    reach = _reach(programme, neat)
    high = Descent(_Most(programme, neat, reach), allowed(within), known[-1], asked)
    high.low = 1.0
    most = high.run()
    least_g, most_g = low.quantity, reach / most.quantity
    return AmountRange(
        material, least_g, most_g, low.bound, reach / most.bound, _close(low, asked.gap) and _close(most, asked.gap)
    )


def _close(found: Least, gap: float) -> bool:
    return found.quantity <= 1e-12 or found.quantity - found.bound <= gap * found.quantity * (1 + 1e-9)


def _least(ceiled: _Least, within: float, start: FloatArray, deadline: Budget) -> Least:
    """Return the least; whether it can be left out altogether is asked first."""
    if ceiled.quantity(start) > 0:
        used = np.flatnonzero(ceiled.neat <= 0)
        answer = decide(ceiled.programme.only(used), allowed(within), deadline.rest(warm=deadline.warm))
        if answer.amounts is not None and answer.value <= allowed(within):
            start = np.zeros(len(ceiled.neat))
            start[used] = answer.amounts
    if ceiled.quantity(start) <= 0:
        return Least(start, 0.0, 0.0, 0)
    return Descent(ceiled, allowed(within), start, deadline).run()


def _reach(programme: Programme, neat: FloatArray) -> float:
    """Return more than can be poured of the material (neat gram)."""
    with np.errstate(divide="ignore"):
        by_batch: Any = np.where(programme.basis > 0, programme.batch_g / programme.basis, math.inf)
    most = np.minimum(by_batch, programme.maximum)
    held = neat > 0
    return float((neat[held] * np.minimum(most[held], 1000 * programme.batch_g)).sum())
