"""The least of an axis (cost, say) that a deviation of at most so much needs: exact for all three measures.

Let `v(c)` be the least deviation with the axis at most `c`: it never rises with `c`. A ceiling `c` at which the
proven bound on the deviation is above what is allowed is too low for every formula; a ceiling at which some
formula's deviation is allowed is high enough. So both ends are proven, and nothing is scanned. Each ceiling is
asked of the door for the measure (squares: the exact search; absolute and worst: a mixed-integer programme), which
ends as soon as it has decided. Between two questions the ceiling is brought down over the few columns of the best
formula, which costs next to nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from reaccord.contract import NEARLY_ZERO, Budget, FloatArray, Programme
from reaccord.domain.study import Study
from reaccord.programme import restate, state
from reaccord.questions.axis import Axis
from reaccord.solvers.decide import decide

SLACK = 1e-9
"""Relative; floating-point noise of a deviation."""
INSIDE = 0.9
"""Of the gap asked for: how far below the best formula the closing ceiling is tried."""
WIDE = 0.1
"""While the space is wider than this part of the best formula's quantity, it is halved."""
FINER = 0.1
"""Of the gap: to this the ceiling is brought down over the best formula's own columns."""
POLISHING = 2.0
"""Seconds."""
MOST_HALVINGS, MOST_CEILINGS = 60, 200


class Ceiled(Protocol):
    """A programme at any ceiling of some quantity of its amounts."""

    def at(self, ceiling: float) -> Programme:
        """Return the programme with the quantity at most `ceiling`."""

    def quantity(self, amounts: FloatArray) -> float:
        """Return the quantity of amounts (n,) in gram."""


class Ceilings:
    """A study's programme at any ceiling of an axis; `unlimited` is the study without its own, `free` its programme."""

    def __init__(self, study: Study, axis: Axis) -> None:
        self.study, self.axis = study, axis
        self.unlimited = axis.at(study, None)
        self.free = state(self.unlimited)

    def at(self, ceiling: float) -> Programme:
        """Return the programme with the axis at most `ceiling`."""
        return self.stated(self.axis.at(self.study, ceiling))

    def stated(self, limited: Study) -> Programme:
        """Return the programme of a study that differs from this one in a limit or two."""
        return restate(self.free, self.unlimited, limited)

    def quantity(self, amounts: FloatArray) -> float:
        """Return the quantity of amounts (n,) in gram."""
        stocks = self.study.stocks
        return self.axis.quantity(self.study, {s.key: float(x) for s, x in zip(stocks, amounts, strict=False) if x > 0})


class Columns:
    """A programme at any ceiling, over the columns of one formula."""

    def __init__(self, ceilings: Ceiled, amounts: FloatArray) -> None:
        self._ceilings, self._n = ceilings, len(amounts)
        self._kept = np.flatnonzero(amounts > 0)  # a helper column is used exactly where its stock is

    def at(self, ceiling: float) -> Programme:
        """Return the programme of these columns with the axis at most `ceiling`."""
        return self._ceilings.at(ceiling).only(self._kept)

    def whole(self, amounts: FloatArray) -> FloatArray:
        """Return amounts (n,) over all columns."""
        spread = np.zeros(self._n)
        spread[self._kept] = amounts
        return spread


@dataclass(frozen=True)
class Least:
    """`amounts` (n,) are allowed and lie at `quantity`; no formula that is allowed lies below `bound`."""

    amounts: FloatArray
    quantity: float
    bound: float
    nodes: int


def allowed(within: float) -> float:
    """Return what counts as within a deviation: noise is let pass, and what counts as none."""
    return max(within * (1 + SLACK), NEARLY_ZERO)


class Descent:
    """Brings the ceiling down from a formula that is allowed; `gap` is relative to the quantity."""

    def __init__(self, ceilings: Ceiled, most: float, start: FloatArray, deadline: Budget) -> None:
        self.ceilings, self.most, self.deadline = ceilings, most, deadline
        self.amounts, self.high = start, ceilings.quantity(start)
        self.low, self.nodes = 0.0, 0
        self._warm = deadline.warm

    @property
    def gap(self) -> float:
        """The relative gap between the best formula and the bound."""
        return 0.0 if self.high <= 1e-12 else max(0.0, (self.high - self.low) / self.high)

    def run(self, told: Callable[[float, float, int], None] | None = None) -> Least:
        """Close the space to the gap asked for, or until time is over."""
        wanted, close = self.deadline.gap, max(self.deadline.gap, 1e-9)
        self._come_down(close)
        halving = True
        for turn in range(MOST_CEILINGS):
            if self.gap <= wanted or self.deadline.over():
                break
            halve = halving and (self.gap > WIDE or turn % 4 == 3)
            ceiling = 0.5 * (self.low + self.high) if halve else self.high * (1 - INSIDE * close)
            if not self._try(max(ceiling, self.low)):
                if not halve:
                    break
                halving = False  # a door that proves nothing far below may prove what counts: just below
            if told is not None:
                told(self.high, self.low, self.nodes)
        return Least(self.amounts, self.high, self.low, self.nodes)

    def _try(self, ceiling: float) -> bool:
        """Ask one ceiling, a higher one if it decides nothing; return whether anything was learnt."""
        for _ in range(4):
            budget = self.deadline.rest(warm=self._warm)
            answer = decide(self.ceilings.at(ceiling), self.most, budget, self.amounts)
            self.nodes, self._warm = self.nodes + answer.nodes, answer.warm
            if answer.amounts is not None and answer.value <= self.most:
                self._take(answer.amounts, ceiling)
                self._come_down(max(self.deadline.gap, 1e-9))
                return True
            if answer.bound > self.most:
                self.low = max(self.low, ceiling)
                return True
            if self.deadline.over():
                return False
            ceiling = 0.5 * (ceiling + self.high)
        return False

    def _take(self, amounts: FloatArray, ceiling: float) -> None:
        quantity = min(self.ceilings.quantity(amounts), ceiling)
        if quantity < self.high:
            self.amounts, self.high = amounts, quantity

    def _come_down(self, gap: float) -> None:
        """Find the least ceiling of the best formula's own columns, by halves: a few columns, milliseconds each."""
        columns, low = Columns(self.ceilings, self.amounts), self.low
        for _ in range(MOST_HALVINGS):
            if self.high - low <= FINER * gap * self.high or self.deadline.over():
                return
            ceiling = 0.5 * (low + self.high)
            answer = decide(columns.at(ceiling), self.most, self.deadline.rest())
            if answer.amounts is not None and answer.value <= self.most:
                self._take(columns.whole(answer.amounts), ceiling)
            else:
                low = ceiling


def least_within(
    ceilings: Ceiled,
    within: float,
    start: FloatArray,
    deadline: Budget,
    told: Callable[[float, float, int], None] | None = None,
) -> Least:
    """Return the least of a quantity with a deviation of at most `within`.

    Parameters
    ----------
    ceilings
        The programme and what is to be least.
    within
        The deviation allowed, by the study's measure.
    start : (n,)
        A formula (gram) that is allowed.
    deadline
        Running; its gap is relative to the quantity, its `warm` what the first search begins from.
    told
        Is told of quantity, bound and nodes.
    """
    return Descent(ceilings, allowed(within), start, deadline).run(told)


def relative_gap(quantity: float, bound: float) -> float:
    """Return the relative gap of a quantity that cannot be below `bound`."""
    return 0.0 if quantity <= 1e-12 or math.isinf(bound) else max(0.0, (quantity - bound) / quantity)
