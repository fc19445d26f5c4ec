"""What a solver is given and what it must give back. Labelled arrays, nothing of files or studies.

The programme, for amounts `x` (gram, shape (n,)) with switches `z_i = [x_i > 0]`:

    minimise    sum_k (factor_k * d_k)^2,   d_k = y_k - clip(y_k, low_k, high_k),   y = content @ x / batch_g
    subject to  basis @ x = batch_g
                x_i = 0  or  minimum_i <= x_i <= maximum_i
                limit.amounts @ x + limit.used @ z <= limit.most      for every limit
                of one material's strengths only one is used           (`strengths`)

Measures `absolute` (sum of |factor_k d_k|) and `worst` (largest of them) share everything else.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from reaccord.domain.limit_key import LimitKey

FloatArray = NDArray[np.float64]
Measure = Literal["squares", "absolute", "worst"]
Status = Literal["proven", "feasible", "infeasible", "no_answer"]


@dataclass(frozen=True)
class LimitRow:
    """One linear limit: `amounts @ x + used @ z <= most`, `used >= 0`.

    `key` tells it from others; `label` and `sentence` say it to people.
    """

    key: LimitKey
    label: str
    sentence: str
    amounts: FloatArray
    used: FloatArray
    most: float


class LimitEntries(NamedTuple):
    """The coefficients of all limits that are not 0, row by row (E,): where each stands, what a gram and a use add."""

    row: NDArray[np.intp]
    column: NDArray[np.intp]
    amount: FloatArray
    use: FloatArray

    def greatest(self, values: FloatArray, rows: int) -> FloatArray:
        """Return the greatest of numbers (E,), none below 0, of each of so many rows; 0 for a row without any."""
        found = np.zeros(rows)
        np.maximum.at(found, self.row, values)
        return found


class Made(NamedTuple):
    """A dilution that is made: the column poured, the column of grams made of it, the least that can be made."""

    stock: int
    column: int
    least_g: float


@dataclass(frozen=True)
class Programme:
    """A stated programme; shapes: K rows, n columns.

    columns, rows
        Labels, sorted by name within their kind; every array follows them.
    content : (K, n)
        Gram of the row's constituents per gram of stock, never negative.
    low, high, factor : (K,)
        Ends of the band (equal: a share) as fractions of the basis; weight x scale.
    basis : (n,)
        Gram of the basis per gram of stock.
    batch_g : float
        Gram of basis wanted.
    minimum, maximum : (n,)
        Gram; `maximum` may be infinite.
    strengths
        For each material with several strengths, the columns of each strength.
    step : (n,)
        Grid of the balance in gram; 0 where there is none, and by default.
    made
        Helper columns that are no stock but grams made of one: what is poured of it, or the least that can be made.
    """

    columns: tuple[str, ...]
    rows: tuple[str, ...]
    content: FloatArray
    low: FloatArray
    high: FloatArray
    factor: FloatArray
    basis: FloatArray
    batch_g: float
    minimum: FloatArray
    maximum: FloatArray
    limits: tuple[LimitRow, ...] = ()
    strengths: tuple[tuple[tuple[int, ...], ...], ...] = ()
    measure: Measure = "squares"
    step: FloatArray = field(default_factory=lambda: np.zeros(0))
    made: tuple[Made, ...] = ()

    def __post_init__(self) -> None:
        """Stand without a grid where none is given."""
        if not len(self.step):
            object.__setattr__(self, "step", np.zeros(len(self.columns)))

    @property
    def helpers(self) -> NDArray[np.bool_]:
        """Which columns (n,) are grams made."""
        found = np.zeros(len(self.columns), dtype=bool)
        found[[made.column for made in self.made]] = True
        return found

    @cached_property
    def limit_entries(self) -> LimitEntries:
        """The coefficients of the limits, (E,)."""
        grams, used, _, _ = self.limit_arrays
        row, column = np.nonzero((grams != 0) | (used != 0))
        return LimitEntries(row, column, grams[row, column], used[row, column])

    @cached_property
    def limit_arrays(self) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return the limits' `amounts` and `used`, (L, n), the largest of each row's amounts and its `most`, (L,)."""
        shape = len(self.limits), len(self.columns)
        grams = np.concatenate([np.zeros(0), *(row.amounts for row in self.limits)]).reshape(shape)
        used = np.concatenate([np.zeros(0), *(row.used for row in self.limits)]).reshape(shape)
        most = np.array([row.most for row in self.limits], dtype=float)
        return grams, used, np.maximum(grams.max(axis=1, initial=0.0), -grams.min(axis=1, initial=0.0)), most

    @cached_property
    def _strength_places(self) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
        """Return every column that is a strength, the number of its strength, the first number of each material."""
        each = [columns for material in self.strengths for columns in material]
        number = np.repeat(np.arange(len(each)), [len(columns) for columns in each])
        starts = np.cumsum([0, *(len(material) for material in self.strengths[:-1])])
        return np.array([i for columns in each for i in columns], dtype=np.intp), number, starts

    def scaled_residuals(self, amounts: FloatArray, basis_g: float | None = None) -> FloatArray:
        """Return `factor_k d_k`, shape (K,), for amounts in gram, shape (n,); shares are of `basis_g`, or the batch."""
        achieved = self.content @ amounts / (self.batch_g if basis_g is None else basis_g)
        scaled: FloatArray = self.factor * (achieved - np.clip(achieved, self.low, self.high))
        return scaled

    def value(self, amounts: FloatArray, basis_g: float | None = None) -> float:
        """Return the deviation of `amounts` by the programme's measure; shares are of `basis_g`, or the batch."""
        return float(deviation_of(self.measure, self.scaled_residuals(amounts, basis_g)))

    def excess(self, amounts: FloatArray) -> float:
        """Return the worst violation of any limit, each relative to its own size; 0 when all hold."""
        used = (amounts > 0).astype(float)
        worst = abs(float(self.basis @ amounts) - self.batch_g) / self.batch_g
        below = np.where(used > 0, self.minimum - amounts, 0.0)
        worst = max(worst, float(below.max(initial=0.0)) / self.batch_g, -float(amounts.min(initial=0.0)))
        worst = max(worst, float(np.maximum(amounts - self.maximum, 0.0).max(initial=0.0)) / self.batch_g)
        if self.limits:
            on = np.flatnonzero(used)
            grams, uses, largest, most = self.limit_arrays
            reached, counted = grams[:, on] @ amounts[on], uses[:, on].sum(axis=1)
            size = np.maximum(np.abs(most), np.abs(grams[:, on]) @ amounts[on] + counted)
            # an entry that should be 0 (a price that is the ceiling) is 1e-17 of the row's largest: no size
            size = np.maximum(size, np.maximum(1e-6 * largest * self.batch_g, 1e-300))
            worst = max(worst, float(((reached + counted - most) / size).max()))
        if self.strengths:
            column, strength, starts = self._strength_places
            opened = np.bincount(strength, used[column]) > 0
            if (np.add.reduceat(opened, starts, dtype=np.int_) > 1).any():
                return math.inf
        return max(worst, 0.0)

    def only(self, kept: NDArray[np.intp]) -> Programme:
        """Return the programme of these columns (sorted) alone; limits that cannot bind there are left out."""
        place = {int(old): new for new, old in enumerate(kept)}
        strengths = []
        for material in self.strengths:
            there = [tuple(place[i] for i in columns if i in place) for columns in material]
            there = [columns for columns in there if columns]
            if len(there) > 1:
                strengths.append(tuple(there))
        grams, used, _, most = self.limit_arrays
        grams, used = grams[:, kept], used[:, kept]
        left = (most < 0) | (grams > 0).any(axis=1) | used.any(axis=1)
        rows = ((self.limits[k], grams[k], used[k]) for k in np.flatnonzero(left))
        return replace(
            self,
            columns=tuple(self.columns[i] for i in kept),
            content=self.content[:, kept],
            basis=self.basis[kept],
            minimum=self.minimum[kept],
            maximum=self.maximum[kept],
            limits=tuple(LimitRow(row.key, row.label, row.sentence, g, u, row.most) for row, g, u in rows),
            strengths=tuple(strengths),
            step=self.step[kept],
            made=tuple(
                Made(place[made.stock], place[made.column], made.least_g)
                for made in self.made
                if made.stock in place and made.column in place
            ),
        )


def deviation_of(measure: Measure, scaled: FloatArray) -> FloatArray:
    """Return the deviation of scaled residuals, shape (K, ...), along their first axis."""
    if measure == "squares":
        return np.asarray(np.einsum("k...,k...->...", scaled, scaled))
    sizes = np.abs(scaled)
    return np.asarray(sizes.sum(axis=0) if measure == "absolute" else sizes.max(axis=0, initial=0.0))


@dataclass(frozen=True)
class Budget:
    """How hard to try: relative gap to stop at, seconds, two calls from outside, and what to begin from.

    `stop()` is asked often and ends the search when true (an interrupt); it stays true then. `progress(value, bound,
    nodes)` is told now and then, and before it `found(amounts)`, (n,), by a search that knows them. `start` (n,) is a
    formula of a programme much like this one: what it pours is tried first, and it need not hold these limits. `warm`
    is that of an answer to such a programme (`Answer.warm`): what was proven there and holds here is not proven again.

    The seconds count from `running()`, which whatever is given a budget calls; the budget itself can be given again.
    """

    gap: float = 1e-3
    seconds: float = math.inf
    stop: Callable[[], bool] = field(default=lambda: False)
    progress: Callable[[float, float, int], None] | None = None
    start: FloatArray | None = None
    begun: float | None = None
    found: Callable[[FloatArray], None] | None = None
    warm: object = None

    def running(self) -> Budget:
        """Return the budget with its clock running."""
        return self if self.begun is not None else replace(self, begun=time.perf_counter())

    def elapsed(self) -> float:
        """Return the seconds since the clock runs."""
        return 0.0 if self.begun is None else time.perf_counter() - self.begun

    def left(self) -> float:
        """Return the seconds left, never below 0."""
        return max(0.0, self.seconds - self.elapsed())

    def over(self) -> bool:
        """Whether to stop."""
        return self.left() <= 0 or self.stop()

    def rest(
        self,
        part: float = 1.0,
        *,
        progress: Callable[[float, float, int], None] | None = None,
        start: FloatArray | None = None,
        warm: object = None,
    ) -> Budget:
        """Return the part of the time left as a budget of its own, for one search of several."""
        return Budget(self.gap, part * self.left(), self.stop, progress, start, warm=warm)


@dataclass(frozen=True)
class Answer:
    """What a solver found.

    `amounts` (n,) in gram, exactly 0 where unused, or None; `value` recomputed from them by
    `Programme.value`; `bound` proven to be no larger than the value of any formula; `libraries` are those that
    solved. `warm` is what a search of a programme much like this one can begin from (`Budget.warm`), where the solver
    leaves anything behind.
    """

    status: Status
    amounts: FloatArray | None
    value: float
    bound: float
    solver: str
    libraries: tuple[str, ...]
    seconds: float
    nodes: int
    warm: object = field(default=None, repr=False, compare=False)

    @property
    def formula(self) -> FloatArray:
        """The amounts (n,) where there are any."""
        assert self.amounts is not None
        return self.amounts


NEARLY_ZERO = 1e-9
"""A deviation this small counts as none: the gap is 0 then."""


def gap_of(value: float, bound: float) -> float:
    """Return the relative gap `(value - bound) / value`, 0 for a deviation of at most 1e-9."""
    if value <= NEARLY_ZERO:
        return 0.0
    return max(0.0, (value - bound) / value)


def standing(value: float, bound: float, gap: float) -> Status:
    """Return whether a value is proven within a relative gap, or only found."""
    return "proven" if gap_of(value, bound) <= gap else "feasible"
