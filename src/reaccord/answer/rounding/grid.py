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
Number = FloatArray | float
Rank = tuple[float, float]
"""Excess over the limits, then deviation: the smaller the better."""


class Grid:
    """A programme over some of its stocks, formulas as columns (m, count) in gram.

    A formula's totals are sums over its stocks: of each limit, and of the batch from above and from below, what it is
    over it by, relative (`over`); of each row of the target how far it is off, times the basis, an end of a band apart
    from the other (`off`), and the basis last. So many per gram poured, so many once where a stock is used at all, so
    many per gram made of a dilution (`made_g`: as much as is poured, but no less than can be made).
    """

    def __init__(self, programme: Programme, like: FloatArray, stocks: Columns) -> None:
        """Take the stocks (m,) of a programme (n columns); `like` (n,) gives limits their size."""
        self.stocks, self.count = stocks, len(programme.columns)
        self.steps, self.maximum = programme.step[stocks], programme.maximum[stocks]
        self.least = np.maximum(programme.minimum[stocks], self.steps)
        self.basis, self.content = programme.basis[stocks], programme.content[:, stocks]
        self.low, self.high, self.factor = programme.low, programme.high, programme.factor
        slack = 1e-9 * self.steps
        self.ends = (self.least - slack)[:, None], np.where(self.steps > 0, self.maximum + slack, np.inf)[:, None]
        self.batch, self.measure = programme.batch_g, programme.measure
        self.work = 0  # numbers reckoned so far
        self._told: dict[bytes, Rank] = {}
        place = {int(old): new for new, old in enumerate(stocks)}
        self.helper, self.least_made = np.full(len(stocks), -1), np.zeros(len(stocks))  # -1: of it nothing is made
        for made in programme.made:
            if made.stock in place:
                self.helper[place[made.stock]], self.least_made[place[made.stock]] = made.column, made.least_g
        self.made = np.flatnonzero(self.helper >= 0)
        self._limits(programme, like)
        self._rows()
        self.strengths = [
            [np.array([place[i] for i in same if i in place], dtype=np.intp) for same in material]
            for material in programme.strengths
        ]

    def _limits(self, programme: Programme, like: FloatArray) -> None:
        """Stack the limits as they are stated, and how large each is."""
        limits = [row for row in programme.limits if row.key.kind != "made"]
        rows = np.array([row.amounts for row in limits]).reshape(len(limits), self.count)
        self.used = np.array([row.used[self.stocks] for row in limits]).reshape(len(limits), len(self.stocks))
        self.most = np.array([row.most for row in limits], dtype=float)
        size, absolute = np.abs(self.most), np.abs(rows)
        size += absolute @ like
        np.maximum(size, FAINT * absolute.max(axis=1, initial=0.0) * self.batch, out=size)
        self.size = np.where(size > 0, size, 1.0)
        self.limits = rows[:, self.stocks]
        self.of_made = rows[:, self.helper[self.made]] / self.size[:, None]

    def _rows(self) -> None:
        """Stack what totals are reckoned by; divided by sizes and times factors here, once for all formulas."""
        size, factor, made = self.size[:, None], self.factor[:, None], self.basis / self.batch
        missed_by = np.where(self.basis > 0, self.steps, 0.0) * ((1 + 1e-9) / self.batch)
        band = self.low != self.high
        above, below = (factor * (self.content - end[:, None] * self.basis) for end in (self.high, self.low))
        self.once = np.concatenate([self.used / size, [-missed_by, -missed_by]])
        self.room = np.concatenate([self.most / self.size, [1.0, -1.0]])[:, None] + HOLDS
        self.over = np.concatenate([self.limits / size, [made, -made]])
        self.off = np.concatenate([above[band], -below[band], above[~band], [self.basis]])
        self.floor = np.repeat([0.0, -np.inf], [2 * band.sum(), (~band).sum()])[:, None]  # inside a band nothing is off
        self.each = len(self.low) + len(self.most) + 2  # numbers reckoned for a formula: they are what work is

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

    def left(self, amounts: FloatArray) -> FloatArray:
        """Return what limits and batch leave for the grams of formulas (m, count): whichever have these stocks."""
        left: FloatArray = self.room - self.once @ (amounts > 0)
        return left

    def excess(self, amounts: FloatArray, left: FloatArray) -> FloatArray:
        """Return the summed relative violation of all limits and of the batch."""
        over: FloatArray = self.over @ amounts
        if len(self.made):
            over[:-2] += self.of_made @ self.made_g(amounts)
        over -= left
        result: FloatArray = np.maximum(over, 0, out=over).sum(axis=0)
        return result

    def least_moved(self, amounts: FloatArray) -> FloatArray:
        """Return the least of each line of formulas (m, count) that moves; nothing ends the others."""
        return np.where((amounts > 0) & (self.steps > 0)[:, None], self.ends[0], -np.inf)

    def beyond(self, amounts: FloatArray, least: FloatArray) -> BoolArray:
        """Return which formulas (m, count) have a line beyond its ends."""
        beyond: BoolArray = ((amounts < least) | (amounts > self.ends[1])).any(axis=0)
        return beyond

    def value(self, off: FloatArray) -> FloatArray:
        """Return the deviation on the basis reached from `self.off @ amounts`; infinite without a basis."""
        basis, scaled = off[-1], np.maximum(off[:-1], self.floor)
        result = deviation_of(self.measure, scaled)
        if basis.min(initial=1.0) <= 0:
            result[basis <= 0] = np.inf
            basis = np.maximum(basis, FAINT)
        result /= basis * basis if self.measure == "squares" else basis
        return result

    def clashes(self, amounts: FloatArray) -> FloatArray:
        """Return how many strengths of one material too many formulas (m, count) use."""
        found = np.zeros(amounts.shape[1])
        for material in self.strengths:
            used = sum((amounts[same] > 0).any(axis=0).astype(float) for same in material)
            found += np.maximum(used - 1.0, 0.0)
        return found

    def rank(self, amounts: FloatArray) -> Rank:
        """Return how a formula (m,) stands beside others."""
        key = amounts.tobytes()
        if key not in self._told:
            excess, value = self.ranks(amounts[:, None])
            self._told[key] = float(excess[0]), float(value[0])
        return self._told[key]

    def ranks(self, amounts: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the ranks of formulas (m, count)."""
        self.work += self.each * amounts.shape[1]
        off, excess = self.off @ amounts, self.excess(amounts, self.left(amounts))
        excess[off[-1] <= 0] = np.inf
        return excess + self.clashes(amounts) if self.strengths else excess, self.value(off)

    def cleaned(self, amounts: FloatArray) -> FloatArray:
        """Return a formula (m,), or several (count, m), at whole steps."""
        unit = np.where(self.steps > 0, self.steps, 1.0)
        return np.where(self.steps > 0, np.round(amounts / unit) * unit, amounts)


def better(this: Rank, other: Rank) -> bool:
    """Whether one formula stands before another by more than noise."""
    return bool(ahead(*this, *other))


def ahead(excess: Number, value: Number, before: Number, at: Number) -> BoolArray:
    """Return which stand before others, of this excess and deviation each, of those `before` and `at`."""
    return (excess < before * (1 - 1e-9)) | ((excess <= before) & (value < at * (1 - SLIGHT)))


def on_reached_basis(programme: Programme, amounts: FloatArray) -> Programme:
    """Return the programme whose shares divide by the basis that `amounts` reach."""
    return replace(programme, batch_g=float(programme.basis @ amounts))
