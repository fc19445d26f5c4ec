"""The programme scaled to a batch of 1, and what is decided about its columns.

With `x = amounts / batch_g` and the factors folded into the rows:

    minimise    sum_k dist(content_k @ x, [low_k, high_k])^2 + constant
    subject to  basis @ x = 1,  amounts @ x + used @ z <= most,  x_i = 0 or minimum_i <= x_i <= maximum_i
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray, Programme
from reaccord.solvers.exact.limits import Limits
from reaccord.solvers.exact.products import Products

IntArray = NDArray[np.int_]
State = NDArray[np.int8]
"""For each column: OFF (unused), ON (inside its minimum and maximum) or FREE (either); shape (n,)."""

NOISE, ALL_AT_ONCE = 1e-14, 150
OFF, FREE, ON = np.int8(-1), np.int8(0), np.int8(1)


@dataclass(frozen=True)
class Scaled:
    """A programme scaled to batch 1; K rows with content, L limit rows, n columns as in the programme.

    content : (K, n), low, high : (K,)
        Rows times their factors; rows that no column touches are summed up in `constant`.
    basis, minimum, maximum : (n,)
        Gram of basis per gram; bounds over `batch_g`; a column with `maximum` 0 is never used.
    narrowed
        Whether `minimum` is what nodes have learned rather than what can be weighed.
    amounts, used : (L, n), most : (L,)
        Limit rows, each divided by its own largest coefficient.
    groups
        For each material with several strengths, the columns of each strength.
    demands
        Sets of columns of which each has at least one that is used (see `demands`).
    """

    content: FloatArray
    low: FloatArray
    high: FloatArray
    basis: FloatArray
    amounts: FloatArray
    used: FloatArray
    most: FloatArray
    minimum: FloatArray
    maximum: FloatArray
    groups: tuple[tuple[IntArray, ...], ...]
    constant: float
    narrowed: bool = False
    demands: tuple[IntArray, ...] = ()

    def with_maximum(self, maximum: FloatArray) -> Scaled:
        """Return the same with other maxima (n,); what does not depend on them is not computed again."""
        return self._like(replace(self, maximum=maximum))

    def within(self, minimum: FloatArray, maximum: FloatArray) -> Scaled:
        """Return the same for formulas whose columns, where used, have amounts between these ends, each (n,)."""
        return self._like(replace(self, minimum=minimum, maximum=maximum, narrowed=True))

    def demanding(self, columns: IntArray) -> Scaled:
        """Return the same for formulas that use at least one of these columns."""
        return self._like(replace(self, demands=(*self.demands, columns)))

    def _like(self, other: Scaled) -> Scaled:
        kept = ("banded", "switched", "strength_of", "entries", "products", "limits", "count_row")
        other.__dict__.update({name: self.__dict__[name] for name in kept if name in self.__dict__})
        return other

    @cached_property
    def banded(self) -> NDArray[np.bool_]:
        """Return which rows are bands rather than shares, shape (K,)."""
        return np.asarray(self.high > self.low)

    @cached_property
    def least(self) -> FloatArray:
        """Return the least each entry of `limits` can add to its row when its column is used, shape (E,)."""
        limits = self.limits
        ends = np.where(limits.amount < 0, self.maximum[limits.column], self.minimum[limits.column])
        least = limits.amount * ends
        return np.asarray(least + limits.use)

    @cached_property
    def in_batch(self) -> tuple[FloatArray, FloatArray]:
        """Return what each column adds to the batch at its minimum, and at its maximum, both (n,)."""
        with np.errstate(invalid="ignore"):
            most = np.where(self.basis > 0, self.basis * self.maximum, 0.0)
        return self.basis * self.minimum, most

    @cached_property
    def switched(self) -> NDArray[np.bool_]:
        """Return which columns have a real switch: a minimum, a place in `used`, one of several strengths."""
        switched = (self.minimum > 0) | self.used.any(axis=0)
        for strengths in self.groups:
            switched[np.concatenate(strengths)] = True
        return np.asarray(switched)

    @cached_property
    def strength_of(self) -> IntArray:
        """Return the number of the strength each column belongs to, -1 for none; shape (n,)."""
        owner = np.full(len(self.basis), -1)
        for number, columns in enumerate(s for strengths in self.groups for s in strengths):
            owner[columns] = number
        return owner

    @cached_property
    def group_starts(self) -> IntArray:
        """Return the number of the first strength of each group."""
        sizes = [len(strengths) for strengths in self.groups]
        return np.cumsum([0, *sizes[:-1]]) if sizes else np.zeros(0, dtype=np.int_)

    @cached_property
    def group_sizes(self) -> IntArray:
        """Return the number of strengths of each group."""
        return np.array([len(strengths) for strengths in self.groups], dtype=np.int_)

    def strengths_used(self, used: NDArray[np.bool_]) -> tuple[NDArray[np.bool_], IntArray]:
        """Return which strengths have a used column, and how many of its group do, both (S,)."""
        within = self.strength_of >= 0
        weights = used[within].astype(float)
        opened = np.bincount(self.strength_of[within], weights, minlength=int(self.group_sizes.sum())) > 0
        count = np.add.reduceat(opened.astype(np.int_), self.group_starts)
        return opened, np.repeat(count, self.group_sizes)

    @cached_property
    def count_row(self) -> int | None:
        """Return the limit row that counts columns and nothing else (a lines limit), if there is one."""
        for k in range(len(self.most)):
            counted = self.used[k][self.used[k] > 0]
            if len(counted) and not self.amounts[k].any() and counted.min() == counted.max():
                return k
        return None

    @cached_property
    def entries(self) -> tuple[IntArray, IntArray, FloatArray]:
        """Return row, column and size of every content."""
        row, column = np.nonzero(self.content)
        return row, column, self.content[row, column]

    @cached_property
    def products(self) -> Products:
        """Return the contents as something to multiply with."""
        return Products(self.content)

    @cached_property
    def limits(self) -> Limits:
        """Return the limit rows as something to multiply with."""
        return Limits(self.amounts, self.used)

    @cached_property
    def helpers(self) -> NDArray[np.bool_]:
        """Return the columns that hold nothing and have no switch: they only couple limits, always there; (n,)."""
        return np.asarray(~self.switched & ~self.content.any(axis=0) & (self.maximum > 0))

    def distance(self, amounts: FloatArray) -> FloatArray:
        """Return each row's signed distance from its band, shape (K,)."""
        achieved = self.products.achieved(amounts)
        return np.asarray(achieved - np.minimum(np.maximum(achieved, self.low), self.high))

    def value(self, amounts: FloatArray) -> float:
        """Return the sum of squares at `amounts` (n,)."""
        distance = self.distance(amounts)
        return float(distance @ distance) + self.constant

    def held(self, state: State) -> NDArray[np.bool_]:
        """Return the columns of a state that must be poured, shape (n,)."""
        return np.asarray((state == ON) & (self.minimum > 0))

    def first_working(self) -> NDArray[np.bool_]:
        """Return the columns (n,) to begin with: all, or of many what limits demand and the two richest of each row."""
        n = len(self.basis)
        if n <= ALL_AT_ONCE:
            return np.ones(n, dtype=bool)
        working = self.limits.columns_of((self.limits.amount < 0) & (self.most < 0)[self.limits.row])
        size = np.sqrt(0.5 * self.products.curvature)
        scale = np.where(self.maximum > 0, 1.0 / np.maximum(size, 1e-300), 0.0)
        for row in np.flatnonzero(self.low > 0):
            working[np.argsort(-self.content[row] * scale, kind="stable")[:2]] = True
        return working

    def first_state(self) -> State:
        """Return the state before anything is decided: columns without a switch are ON."""
        state = np.where(self.switched, FREE, ON).astype(np.int8)
        state[self.maximum <= 0] = OFF
        return state


def cleaned(programme: Programme) -> Programme:
    """Return the programme without limit coefficients that are only rounding noise of their row.

    A ceiling equal to a bottle's own price leaves 1e-18 where 0 is meant, and the bottle would seem too dear.
    """
    entries, limits = programme.limit_entries, list(programme.limits)
    size = np.abs(entries.amount)
    noise = (NOISE * entries.greatest(size, len(limits)))[entries.row]
    noisy = set(entries.row[(size > 0) & (size <= noise)].tolist())
    for k in noisy:
        row = limits[k]
        limits[k] = replace(
            row, amounts=np.where(np.abs(row.amounts) <= NOISE * np.abs(row.amounts).max(), 0.0, row.amounts)
        )
    return replace(programme, limits=tuple(limits)) if noisy else programme


def scale(programme: Programme) -> Scaled:
    """Return the programme scaled to a batch of 1; limit rows without any coefficient stay as they are."""
    content = programme.factor[:, None] * programme.content
    low, high = programme.factor * programme.low, programme.factor * programme.high
    empty = ~content.any(axis=1)
    entries, sizes = programme.limit_entries, limit_sizes(programme)
    amounts, used = np.zeros((2, len(sizes), len(programme.columns)))
    amounts[entries.row, entries.column] = entries.amount * programme.batch_g / sizes[entries.row]
    used[entries.row, entries.column] = entries.use / sizes[entries.row]
    return Scaled(
        content=content[~empty],
        low=low[~empty],
        high=high[~empty],
        basis=np.asarray(programme.basis, dtype=float),
        amounts=amounts,
        used=used,
        most=np.array([row.most for row in programme.limits], dtype=float) / sizes,
        minimum=programme.minimum / programme.batch_g,
        maximum=programme.maximum / programme.batch_g,
        groups=tuple(tuple(np.array(s, dtype=np.int_) for s in g) for g in programme.strengths),
        constant=float((np.maximum(low[empty], 0.0) ** 2).sum()),
    )


def limit_sizes(programme: Programme) -> FloatArray:
    """Return what each limit row is divided by: its largest coefficient at batch 1, shape (L,)."""
    entries = programme.limit_entries
    largest = entries.greatest(
        np.maximum(programme.batch_g * np.abs(entries.amount), entries.use), len(programme.limits)
    )
    return np.where(largest > 0, largest, 1.0)
