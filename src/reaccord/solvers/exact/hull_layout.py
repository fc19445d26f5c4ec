"""The row hull of a state as Clarabel has it: where its variables stand, its cones, and what the answer says.

The programme is that of `row_hull`; parts that stand alone have a cone each, the others of a row share one.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray
from reaccord.solvers.exact.bound import Bound, Duals, bound_of
from reaccord.solvers.exact.cones import Cones, Solved, solved
from reaccord.solvers.exact.demands import unmet
from reaccord.solvers.exact.feasibility import none_left
from reaccord.solvers.exact.filled import Filled
from reaccord.solvers.exact.scaled import FREE, OFF, ON, Scaled, State

BoolArray = NDArray[np.bool_]
UNUSED, LARGE, CLOSE = 1e-5, 1e4, 1e-5
KEPT = 0.5
"""Of its switch: how near a part must come to stand alone below as well."""


class Hull(NamedTuple):
    """A relaxation solved.

    amounts, switches : (n,)
        Its solution, at batch 1.
    duals, bound
        What its duals prove.
    alone
        Which of `scaled.entries` stood alone and had to.
    """

    amounts: FloatArray
    switches: FloatArray
    duals: Duals
    bound: Bound
    alone: BoolArray


def _level(dual: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Return the content at which a quotient `f(u) - f(0)` over its part loses `dual` by more of the part.

    That is `u f'(u) - f(u) + f(0)`: the square of the content up to `low`, and of it less a constant beyond `high`.
    """
    beyond = dual > low**2
    return np.sqrt(np.maximum(np.where(beyond, dual - low**2 + high**2, dual), 0.0))


class Layout:
    """Where the variables x, z, q, part, d, y and v of a state's relaxation stand.

    A `part` and its `q` belong to an entry that stands alone or, after those, to the rest of a row; `d` to those of
    band rows. A plain row has a `y`, its content or, of a band, the distance, and a band row a `v` within its band.
    """

    def __init__(self, scaled: Scaled, state: State, alone: BoolArray) -> None:
        self.scaled, self.state, self.alone = scaled, state, alone
        self.columns = np.flatnonzero(state != OFF)
        self.place = np.full(len(state), -1)
        self.place[self.columns] = np.arange(len(self.columns))
        row, column, entry = scaled.entries
        here = self.place[column] >= 0
        lone, rest = here & alone, here & ~alone
        hulled = np.zeros(len(scaled.low), dtype=bool)
        hulled[row[lone]] = True
        pooled = rest & hulled[row]
        plain = rest & ~hulled[row]
        self.plain = self.place[column[plain]], entry[plain]
        self.pools, of_pool = np.unique(row[pooled], return_inverse=True)
        self.squares, self.of_square = np.unique(row[plain], return_inverse=True)
        first = int(lone.sum())
        self.rows = np.concatenate([row[lone], self.pools])  # of each part
        self.lone = self.place[column[lone]]
        self.of_part = np.concatenate([np.arange(first), first + of_pool])  # of each entry, the part it belongs to
        self.parted = (
            np.concatenate([self.lone, self.place[column[pooled]]]),
            np.concatenate([entry[lone], entry[pooled]]),
        )
        self.filled = Filled.of(scaled, state)
        self.low, self.high = self.filled.band(scaled)
        self.base = np.bincount(
            self.of_part, np.concatenate([self.filled.parts[lone], self.filled.parts[pooled]]), minlength=len(self.rows)
        )  # of each part
        self.distant = np.flatnonzero(scaled.banded[self.rows])
        self.bands = np.flatnonzero(scaled.banded[self.squares])
        parts = len(self.rows)
        sizes = [len(self.columns)] * 2 + [parts] * 2 + [len(self.distant), len(self.squares), len(self.bands)]
        starts = np.cumsum([0, *sizes])
        self.size = int(starts[-1])
        self.x, self.z, self.q, self.part, self.d, self.y, self.v = (
            np.arange(start, start + size) for start, size in zip(starts[:-1], sizes, strict=True)
        )

    def solve(self) -> Solved | None:
        """Return the relaxation solved, or None."""
        cones = Cones()
        self._equalities(cones)
        cones.inequalities_begin()
        self._inequalities(cones)
        cones.threes_begin()
        first, minus = 3 * np.arange(len(self.q)), np.array(-1.0)
        shared = ~self.scaled.banded[self.rows][self.of_part]
        column, entry = self.parted
        right = np.zeros(3 * len(self.q))
        right[2::3] = np.where(self.scaled.banded[self.rows], 0.0, -2.0 * self.base)
        cones.add(
            right,
            (first, self.q, minus), (first, self.part, minus),
            (first + 1, self.q, minus), (first + 1, self.part, -minus),
            (first[self.of_part[shared]] + 2, self.x[column[shared]], -2.0 * entry[shared]),
            (first[self.distant] + 2, self.d, 2.0 * minus),
        )  # fmt: skip
        return solved(cones, self._cost(), self.y, CLOSE)

    def _cost(self) -> FloatArray:
        cost = np.zeros(self.size)
        cost[self.q] = 1.0
        cost[self.part[self.distant]] = -(self.low[self.rows[self.distant]] ** 2)
        share = np.where(self.scaled.banded, 0.0, self.scaled.low)
        parted = self.rows[~self.scaled.banded[self.rows]]
        share[parted] = self.low[parted]
        cost[self.x] = -2.0 * self.scaled.products.weighed(share)[self.columns]
        return cost

    def _equalities(self, cones: Cones) -> None:
        scaled, n = self.scaled, len(self.columns)
        self.batch = cones.add(np.ones(1), (np.zeros(n, dtype=np.int_), self.x, scaled.basis[self.columns]))
        every, minus = np.arange(len(self.squares)), np.array(-1.0)
        filled = (self.of_square, self.x[self.plain[0]], self.plain[1])
        cones.add(np.zeros(len(every)), filled, (every, self.y, minus), (self.bands, self.v, minus))
        on = np.flatnonzero(self.state[self.columns] == ON)
        cones.add(np.ones(len(on)), (np.arange(len(on)), self.z[on], np.array(1.0)))

    def _inequalities(self, cones: Cones) -> None:
        scaled, columns, every = self.scaled, self.columns, np.arange(len(self.columns))
        minimum, maximum = scaled.minimum[columns], np.minimum(scaled.maximum[columns], LARGE)
        one = np.array(1.0)
        cones.add(np.zeros(len(every)), (every, self.x, -one), (every, self.z, minimum))
        cones.add(np.zeros(len(every)), (every, self.x, one), (every, self.z, -maximum))
        free = np.flatnonzero(self.state[columns] == FREE)
        cones.add(np.ones(len(free)), (np.arange(len(free)), self.z[free], one))
        self._within_bands(cones)
        limits, at, blocks = scaled.limits, self.place[scaled.limits.column], []
        for entry, variables in ((limits.amount, self.x), (limits.use, self.z)):
            here = (at >= 0) & (entry != 0)
            blocks.append((limits.row[here], variables[at[here]], entry[here]))
        self.limits = cones.add(scaled.most, *blocks)
        each = np.arange(len(self.lone))
        cones.add(np.zeros(len(each)), (each, self.part[each], one), (each, self.z[self.lone], -one))
        self.hulled, of_hull = np.unique(self.rows, return_inverse=True)
        self.levels = cones.add(np.ones(len(self.hulled)), (of_hull, self.part, one))
        self._one_strength(cones)
        self._demands(cones)

    def _within_bands(self, cones: Cones) -> None:
        """The content of a band row less its distance is within the band, that of a part within its part of it."""
        scaled, every = self.scaled, np.arange(len(self.bands))
        place = np.full(len(self.rows), -1)
        place[self.distant] = np.arange(len(self.distant))
        at = place[self.of_part]
        column, entry = self.parted[0][at >= 0], self.parted[1][at >= 0]
        at, each = at[at >= 0], np.arange(len(self.distant))
        sides = (1.0, scaled.high, self.high), (-1.0, scaled.low, self.low)
        for side, end, end_of_parts in sides:
            sign = np.array(side)
            cones.add(sign * end[self.squares[self.bands]], (every, self.v, sign))
            of_part = (each, self.part[self.distant], -sign * end_of_parts[self.rows[self.distant]])
            cones.add(
                sign * self.base[self.distant], (at, self.x[column], sign * entry), (each, self.d, -sign), of_part
            )

    def _one_strength(self, cones: Cones) -> None:
        """Of strengths of one stock each, the switches sum to at most 1."""
        singles = [np.concatenate(s) for s in self.scaled.groups if all(len(columns) == 1 for columns in s)]
        if not singles:
            return
        group = np.repeat(np.arange(len(singles)), [len(columns) for columns in singles])
        at = self.place[np.concatenate(singles)]
        group, at = group[at >= 0], at[at >= 0]
        several, group = np.unique(group, return_inverse=True)
        cones.add(np.ones(len(several)), (group, self.z[at], np.array(1.0)))

    def _demands(self, cones: Cones) -> None:
        """Of the columns of a demand the switches sum to at least 1."""
        demanded = unmet(self.scaled, self.state)
        if demanded:
            number = np.repeat(np.arange(len(demanded)), [len(columns) for columns in demanded])
            cones.add(-np.ones(len(demanded)), (number, self.z[self.place[np.concatenate(demanded)]], np.array(-1.0)))

    def read(self, v: FloatArray, duals: FloatArray, state: State) -> Hull:
        """Return amounts, switches and duals in the order of the columns, and their bound."""
        n, scaled = len(self.state), self.scaled
        amounts, switches = np.zeros(n), np.zeros(n)
        amounts[self.columns] = np.maximum(v[self.x], 0.0)
        switches[self.columns] = np.clip(v[self.z], 0.0, 1.0)
        levels = scaled.products.achieved(amounts)
        hulled = self.hulled
        level = _level(duals[self.levels], self.low[hulled], self.high[hulled])
        levels[hulled] = self.filled.rows[hulled] + level
        proof = Duals(-float(duals[self.batch][0]), np.maximum(duals[self.limits], 0.0), levels)
        bound = bound_of(scaled, state, amounts, proof)
        # an interior point leaves a little everywhere; it counts for the bound and is no use after it
        return Hull(np.where(switches < UNUSED, 0.0, amounts), switches, proof, bound, self._needed(v))

    def excluded(self, duals: FloatArray, state: State) -> Hull | None:
        """Return an infinite bound if the duals of what has no solution prove, over all columns, that it has none."""
        nothing = np.zeros(len(state))
        proof = Duals(-float(duals[self.batch][0]), np.maximum(duals[self.limits], 0.0), np.zeros(len(self.low)))
        if not none_left(self.scaled, state, nothing, proof.mu, proof.limits):
            return None
        return Hull(nothing, nothing, proof, Bound(math.inf, nothing, nothing), self.alone)

    def _needed(self, v: FloatArray) -> BoolArray:
        """Return which entries have to stand alone below: those far from their switch only cost time."""
        needed = self.alone.copy()
        at = np.flatnonzero(self.alone & (self.place[self.scaled.entries[1]] >= 0))
        part, switch = v[self.part[: len(at)]], v[self.z[self.lone]]
        needed[at[part < KEPT * switch]] = False
        return needed
