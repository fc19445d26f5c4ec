"""Formulas on the grid, many at once: whether they hold every limit and how close they are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray, Programme, deviation_of

BoolArray = NDArray[np.bool_]
Columns = NDArray[np.intp]

HOLDS = 1e-10
"""Relative; a limit counts as held in the search only with no more than floating-point noise over it."""
SLIGHT = 1e-12
"""A relative gain below this is no reason to move on."""
FAINT = 1e-6
"""Of a row's largest coefficient times the batch: the least size of a limit in which all but cancels."""
Rank = tuple[float, float]
"""Excess over the limits, then deviation: the smaller the better."""


class Grid:
    """A programme over some of its stocks, formulas as columns (m, count) in gram.

    A formula's totals are sums over its stocks, one row for each row of the target, each limit, the basis and the
    grams that the batch may be missed by: so many per gram poured, so many once where a stock is used at all, so many
    per gram made of a dilution (`made_g`: as much as is poured, but no less than can be made).
    """

    def __init__(self, programme: Programme, like: FloatArray, stocks: Columns) -> None:
        """Take the stocks (m,) of a programme (n columns); `like` (n,) gives limits their size."""
        self.stocks, self.count = stocks, len(programme.columns)
        self.steps, self.maximum = programme.step[stocks], programme.maximum[stocks]
        self.least = np.maximum(programme.minimum[stocks], self.steps)
        self.basis = programme.basis[stocks]
        self.batch, self.measure = programme.batch_g, programme.measure
        self.work = 0  # numbers reckoned so far
        place = {int(old): new for new, old in enumerate(stocks)}
        self.helper, self.least_made = np.full(len(stocks), -1), np.zeros(len(stocks))  # -1: of it nothing is made
        for made in programme.made:
            if made.stock in place:
                self.helper[place[made.stock]], self.least_made[place[made.stock]] = made.column, made.least_g
        self.made = np.flatnonzero(self.helper >= 0)
        self._rows(programme, like)
        self.strengths = [
            [np.array([place[i] for i in same if i in place], dtype=np.intp) for same in material]
            for material in programme.strengths
        ]

    def _rows(self, programme: Programme, like: FloatArray) -> None:
        """Stack the rows of the target, the limits, the basis and what the batch may be missed by."""
        limits = [row for row in programme.limits if row.key.kind != "made"]
        shape = len(limits), self.count
        rows = np.array([row.amounts for row in limits]).reshape(shape)
        used = np.array([row.used for row in limits]).reshape(shape)
        self.most = np.array([row.most for row in limits]).reshape(-1, 1)
        size = np.abs(rows) @ like + np.abs(self.most[:, 0])
        size = np.maximum(size, FAINT * np.abs(rows).max(axis=1, initial=0.0) * self.batch)
        self.size = np.where(size > 0, size, 1.0)[:, None]
        k, zeros = len(programme.content), np.zeros((len(programme.content), len(self.stocks)))
        nothing = np.zeros(len(self.stocks))
        self.per_gram = np.vstack([programme.content[:, self.stocks], rows[:, self.stocks], self.basis, nothing])
        missed_by = np.where(self.basis > 0, self.steps, 0.0)
        self.once = np.vstack([zeros, used[:, self.stocks], nothing, missed_by])
        self.per_made = np.vstack([zeros, rows[:, self.helper] * (self.helper >= 0), nothing, nothing])
        self.low, self.high, self.factor = (
            array[:, None] for array in (programme.low, programme.high, programme.factor)
        )
        self.target, self.limit = slice(0, k), slice(k, k + len(limits))

    def narrowed(self, amounts: FloatArray) -> FloatArray:
        """Return amounts (n,) of the programme over these stocks (m,)."""
        return amounts[self.stocks]

    def whole(self, amounts: FloatArray) -> FloatArray:
        """Return a formula (m,) over all columns of the programme (n,), helper columns at what they must be."""
        spread = np.zeros(self.count)
        spread[self.stocks] = amounts
        spread[self.helper[self.made]] = self.made_g(amounts[:, None])[:, 0]
        return spread

    def made_g(self, amounts: FloatArray) -> FloatArray:
        """Return the grams made of the stocks `made` for formulas (m, count)."""
        poured = amounts[self.made]
        return np.where(poured > 0, np.maximum(poured, self.least_made[self.made, None]), 0.0)

    def totals(self, amounts: FloatArray) -> FloatArray:
        """Return the totals of formulas (m, count)."""
        total: FloatArray = self.per_gram @ amounts + self.once @ (amounts > 0)
        if len(self.made):
            total += self.per_made[:, self.made] @ self.made_g(amounts)
        return total

    def excess(self, totals: FloatArray) -> FloatArray:
        """Return the summed relative violation of all limits and of the batch, from totals."""
        self.work += totals.size
        basis = totals[-2]
        missed: FloatArray = np.abs(basis - self.batch)
        missed -= totals[-1] * (1 + 1e-9)
        missed -= HOLDS * self.batch
        np.maximum(missed, 0, out=missed)
        missed /= self.batch
        missed[basis <= 0] = np.inf
        if not len(self.most):
            return missed
        over = totals[self.limit] - self.most
        over /= self.size
        over -= HOLDS
        np.maximum(over, 0, out=over)
        result: FloatArray = over.sum(axis=0)
        result += missed
        return result

    def value(self, totals: FloatArray) -> FloatArray:
        """Return the deviation on the basis reached, from totals; infinite without any."""
        basis = totals[-2]
        nothing = basis <= 0
        some = bool(nothing.any())
        scaled = totals[self.target] / (np.where(nothing, 1.0, basis) if some else basis)
        within = np.maximum(scaled, self.low)
        scaled -= np.minimum(within, self.high, out=within)
        scaled *= self.factor
        result = deviation_of(self.measure, scaled)
        return np.where(nothing, np.inf, result) if some else result

    def clashes(self, amounts: FloatArray) -> FloatArray:
        """Return how many strengths of one material too many formulas (m, count) use."""
        found = np.zeros(amounts.shape[1])
        for material in self.strengths:
            used = sum((amounts[same] > 0).any(axis=0).astype(float) for same in material)
            found += np.maximum(used - 1.0, 0.0)
        return found

    def rank(self, amounts: FloatArray) -> Rank:
        """Return how a formula (m,) stands beside others."""
        formula = amounts[:, None]
        totals = self.totals(formula)
        return float((self.excess(totals) + self.clashes(formula))[0]), float(self.value(totals)[0])

    def cleaned(self, amounts: FloatArray) -> FloatArray:
        """Return a formula (m,) at whole steps."""
        unit = np.where(self.steps > 0, self.steps, 1.0)
        return np.where(self.steps > 0, np.round(amounts / unit) * unit, amounts)


def better(this: Rank, other: Rank) -> bool:
    """Whether one formula stands before another by more than noise."""
    if this[0] < other[0] * (1 - 1e-9):
        return True
    return this[0] <= other[0] and this[1] < other[1] * (1 - SLIGHT)


def on_reached_basis(programme: Programme, amounts: FloatArray) -> Programme:
    """Return the programme whose shares divide by the basis that `amounts` reach."""
    return replace(programme, batch_g=float(programme.basis @ amounts))
