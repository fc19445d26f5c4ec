"""Branch and bound where few columns are whole, 0 or 1: one linear programme, kept in HiGHS, its bounds changed.

HiGHS's own search takes milliseconds to set itself up. What is asked of a small shelf takes a few linear programmes of
a tenth of one each, the last basis at hand. At each node the columns that are only partly on are taken as on: most
rows allow it, and then it is a solution; else one of them in a row that does not is decided both ways.
"""

from __future__ import annotations

import heapq
import math
import time
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray
from reaccord.solvers import highs
from reaccord.solvers.highs import Ended, Linear, Loaded, Said, Told

FEW, SMALL = 32, 6000
"""Whole columns and entries up to which a model is small."""
MOST = 100
"""Linear programmes after which HiGHS's own search is asked instead."""
NEARLY_HALF = 0.45
"""What a column nearest to is decided next; where columns are partly on for want of an end, half is too much."""
HELD, WHOLE, SAME = 1e-7, 1e-7, 1e-9
"""HiGHS's own tolerance for a row; what a whole column may be off; what, relative, is no other value."""


def solve(model: Linear, told: Told | None = None, loaded: Loaded | None = None, **options: Any) -> Said:
    """Return what `highs.solve` returns for a model whose `rows` are `Rows`; a small one by the search of this file.

    A small one is searched to its optimum, whatever the gap in `options`. `loaded` is the same model, nothing whole.
    """
    told = told or Told()
    if is_small(model):
        nodes = _Nodes(model, loaded or Loaded(model._replace(whole=None)), told)
        said = nodes.run(options.get("time_limit", math.inf))
        if said is not None:
            return said
        told = told._replace(start=nodes.best if told.start is None else told.start)
    return highs.solve(model, told, **options)


def is_small(model: Linear) -> bool:
    """Tell whether a model is one for this search."""
    whole = _whole(model)
    return len(whole) <= FEW and len(model.rows.data) <= SMALL and bool((model.upper[whole] <= 1).all())


def _whole(model: Linear) -> NDArray[np.intp]:
    """Return the numbers of the whole columns."""
    return np.flatnonzero(np.zeros(0) if model.whole is None else model.whole)


def broken(model: Linear, row: NDArray[np.intp], columns: FloatArray, held: float = HELD) -> NDArray[np.bool_]:
    """Return which rows (m,) some columns break by more than `held`; `row` (entries,) is that of each entry."""
    rows = model.rows
    reached = np.bincount(row, rows.data * columns[rows.indices], minlength=len(model.least))
    return np.asarray((reached < model.least - held) | (reached > model.most + held))


def row_of(model: Linear) -> NDArray[np.intp]:
    """Return the row of each entry of a model (entries,)."""
    return np.repeat(np.arange(len(model.least)), np.diff(model.rows.indptr))


class _Node(NamedTuple):
    """A node to look at: the bound it begins with, its depth (negative), its turn; the ends of the whole columns."""

    bound: float
    depth: int
    turn: int
    low: FloatArray
    high: FloatArray


class _Nodes:
    """The nodes of one search and the best columns so far."""

    def __init__(self, model: Linear, loaded: Loaded, told: Told) -> None:
        self.model, self.loaded, self.told = model, loaded, told
        self.whole, self.row = _whole(model), row_of(model)
        self.best: FloatArray | None = None
        self.value, self.nodes, self.pushed = math.inf, 0, 0
        self.open = [_Node(-math.inf, 0, 0, model.lower[self.whole], model.upper[self.whole])]

    @property
    def bound(self) -> float:
        """Return the least cost that is not excluded."""
        return min(self.value, self.open[0].bound) if self.open else self.value

    def _cut(self) -> float:
        """Return the bound from which on a node is of no more interest."""
        return self.value - SAME * abs(self.value) if self.best is not None else math.inf

    def run(self, seconds: float) -> Said | None:
        """Return the optimum, or what is known when time is up; None where it takes long or HiGHS fails."""
        until = time.perf_counter() + seconds
        while self.open and self.open[0].bound < self._cut():
            if self.nodes >= MOST:
                return None
            if time.perf_counter() >= until or (self.told.stop is not None and self.told.stop()):
                return self._said("stopped")
            node = heapq.heappop(self.open)
            said = self.loaded.between(self.whole, node.low, node.high)
            if said is None:
                return None
            self.nodes += 1
            columns, value = said
            if columns is not None and value < self._cut():
                self._look(node, columns, value)
            if self.told.progress is not None:
                self.told.progress(self.value, self.bound, self.nodes)
        return self._said("infeasible" if self.best is None else "optimal")

    def _said(self, ended: Ended) -> Said:
        return Said(ended, self.best, self.value, self.bound, np.zeros(len(self.model.least)), self.nodes, ended)

    def _look(self, node: _Node, columns: FloatArray, value: float) -> None:
        """Take what a node comes to as a solution, or split it."""
        parts = columns[self.whole]
        partly = (parts > WHOLE) & (parts < 1.0 - WHOLE)
        rounded = columns.copy()
        rounded[self.whole] = parts > WHOLE
        passed = broken(self.model, self.row, rounded)
        if not (passed.any() and partly.any()):
            self._offer(columns if passed.any() else rounded)
        if not partly.any() or value >= self._cut():
            return
        there = np.zeros(len(columns), dtype=bool)
        there[self.model.rows.indices[passed[self.row]]] = True
        asked = partly & there[self.whole]
        asked = asked if asked.any() else partly
        chosen = int(np.argmin(np.where(asked, np.abs(parts - NEARLY_HALF), 1.0)))
        for end in (1.0, 0.0):
            low, high = node.low.copy(), node.high.copy()
            low[chosen] = high[chosen] = end
            self.pushed += 1
            heapq.heappush(self.open, _Node(value, node.depth - 1, self.pushed, low, high))

    def _offer(self, columns: FloatArray) -> None:
        value = float(self.model.cost @ columns)
        if value < self.value:
            self.value, self.best = value, columns
