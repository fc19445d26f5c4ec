"""Formulas on the grid, many at once: whether they hold every limit and how close they are."""

from __future__ import annotations

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

    What it takes is summed over its stocks: of each limit, relative to its size, and of the batch from above and from
    below (`over`); how far each row of the target is off, times the basis, the ends of a band apart, and the basis last
    (`off`). So much per gram poured, so much once where a stock is used at all (`once`), so much per gram made of a
    dilution (`made_g`: as much as is poured, but no less than can be made).
    """

    def __init__(self, programme: Programme, like: FloatArray, stocks: Columns) -> None:
        """Take the stocks (m,) of a programme (n columns); `like` (n,) gives limits their size."""
        self.stocks, self.count = stocks, len(programme.columns)
        self.steps, self.maximum = programme.step[stocks], programme.maximum[stocks]
        self.least = np.maximum(programme.minimum[stocks], self.steps)
        self.basis, self.content = programme.basis[stocks], programme.content[:, stocks]
        self.low, self.high, self.factor = programme.low, programme.high, programme.factor
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
        """Stack what formulas are reckoned by; divided by sizes and times factors here, once for all formulas."""
        size, factor, made = self.size[:, None], self.factor[:, None], self.basis / self.batch
        missed_by = np.where(self.basis > 0, self.steps, 0.0) * ((1 + 1e-9) / self.batch)
        band = self.low != self.high
        above, below = (factor * (self.content - end[:, None] * self.basis) for end in (self.high, self.low))
        self.once = np.concatenate([self.used / size, [-missed_by, -missed_by]])
        self.most_over = np.concatenate([self.most / self.size, [1.0, -1.0]])[:, None] + HOLDS
        self.over, slack = np.concatenate([self.limits / size, [made, -made]]), 1e-9 * self.steps
        self.ends = np.concatenate([self.maximum + slack, slack - self.least])[:, None]
        self.off = np.concatenate([above[band], -below[band], above[~band], [self.basis]])
        self.floor = np.full((len(self.off) - 1, 1), -np.inf)
        self.floor[: 2 * np.count_nonzero(band)] = 0.0  # inside a band nothing is off
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

    def room(self, amounts: FloatArray) -> FloatArray:
        """Return what limits and batch leave for the grams of formulas (m, count): whichever have these stocks."""
        room: FloatArray = self.most_over - self.once @ (amounts > 0)
        return room

    def room_to_move(self, amounts: FloatArray) -> FloatArray:
        """Return the same, and what the ends of lines leave to each line that moves."""
        moving = (amounts > 0) & (self.steps > 0)[:, None]
        return np.concatenate([self.room(amounts), np.where(np.concatenate([moving, moving]), self.ends, np.inf)])

    def taken(self, amounts: FloatArray, room: FloatArray) -> FloatArray:
        """Return what the grams of formulas (m, count) take of such room."""
        taken: FloatArray = self.over @ amounts
        if len(self.made):
            taken[:-2] += self.of_made @ self.made_g(amounts)
        return taken if len(room) == len(taken) else np.concatenate([taken, amounts, -amounts])

    def excess(self, amounts: FloatArray, room: FloatArray) -> FloatArray:
        """Return the summed relative violation of all limits and of the batch; infinite beyond the ends of a line."""
        over = self.taken(amounts, room)
        over -= room
        result: FloatArray = np.maximum(over[: len(self.once)], 0).sum(axis=0)
        result[(over[len(self.once) :] > 0).any(axis=0)] = np.inf
        return result

    def held(self, amounts: FloatArray, room: FloatArray) -> FloatArray:
        """Return 0 for formulas (m, count) that take no more than there is room for, infinite for others."""
        return np.where((self.taken(amounts, room) <= room).all(axis=0), 0.0, np.inf)

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
        off, excess = self.off @ amounts, self.excess(amounts, self.room(amounts))
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
    """Return which of several are `better` than others, of this excess and deviation each, of those `before`, `at`."""
    return np.asarray((excess < before * (1 - 1e-9)) | ((excess <= before) & (value < at * (1 - SLIGHT))))


def value_reached(programme: Programme, amounts: FloatArray) -> float:
    """Return the deviation of amounts (n,) on the basis that they reach."""
    return programme.value(amounts, float(programme.basis @ amounts))
