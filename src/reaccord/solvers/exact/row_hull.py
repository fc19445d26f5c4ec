"""The row hull, a second-order cone programme: every share row with the exact hull of its square over switches.

    minimise  sum_j e_j - 2 b_j y_j + b'b
        with  e_j >= sum_i q_ji,  q_ji part_ji >= (content_ji x_i)^2,  part_ji <= z_i,  sum_i part_ji <= 1,
              minimum_i z_i <= x_i <= maximum_i z_i  and every limit in x and z

over share rows; band rows keep their distance. The square of a sum of parts that are not negative is the least of
these quotients when every `part_ji` may be up to 1; a switch that is only partly on leaves less. So the row relaxation,
which has `e_j >= y_j^2` and `part_ji = z_i`, never proves more. The dual of `sum_i part_ji <= 1` is the square of the
row's level, and that is all the closed form of `bound` needs of a row; Clarabel's own word counts for nothing.

Few parts ever reach their switch: those that would exceed the row's level, `content_ji x_i / z_i`. Only they stand
alone; the rest of a row shares one quotient, and a row without any is a plain square.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.bound import Duals, bound_of
from reaccord.solvers.exact.cones import Cones, solved
from reaccord.solvers.exact.row_relaxation import BoolArray, Relaxed
from reaccord.solvers.exact.scaled import FREE, OFF, ON, Scaled, State

ROUNDS, AT_ONCE = 12, 80
UNUSED, LARGE, CLOSE, NOTED = 1e-5, 1e4, 1e-5, 0.1


@dataclass(frozen=True)
class Hull(Relaxed):
    """A relaxation solved; `alone` says which of `scaled.entries` stood alone in it."""

    alone: BoolArray


def relax_hull(
    scaled: Scaled,
    state: State,
    among: BoolArray,
    loss: float,
    alone: BoolArray | None,
    over: Callable[[], bool] = lambda: False,
) -> Hull | None:
    """Return the relaxation of a state solved, or None if Clarabel fails.

    It begins with the columns of `among` (n,) and takes in others as long as they lower the bound by more
    than `loss` (absolute); the bound counts all of them anyway. The parts of `alone` stand alone, and those that
    turn out to. When `over` says that time is up the first solution is taken.
    """
    among = (among | (state == ON)) & (state != OFF)
    alone = likely_alone(scaled) if alone is None else alone
    best: Hull | None = None
    for _ in range(ROUNDS):
        layout = _Layout(scaled, np.where(among, state, OFF).astype(np.int8), alone)
        answer = layout.solve()
        if answer is None:
            return best
        found = layout.read(*answer, state)
        gained = math.inf if best is None else found.bound.value - best.bound.value
        best = found if gained > 0 else best
        outside = (state == FREE) & ~among
        gain = np.where(outside, np.minimum(found.bound.worth, 0.0), 0.0)
        exceeding = _exceeding(scaled, found, loss) & ~alone
        if over() or (float(gain.sum()) >= -loss and (not exceeding.any() or gained <= loss)):
            break
        order = np.argsort(gain, kind="stable")[: max(AT_ONCE, int(among.sum()) // 2)]
        among, alone = among.copy(), alone | exceeding
        among[order[gain[order] < 0]] = True
    return best


def likely_alone(scaled: Scaled) -> BoolArray:
    """Return which entries fill half of their row when their column is poured as it would be alone."""
    row, column, entry = scaled.entries
    size = np.maximum(0.5 * scaled.products.curvature, 1e-300)
    solo = np.clip(scaled.products.weighed(scaled.low) / size, scaled.minimum, scaled.maximum)
    return np.asarray((scaled.low[row] > 0) & (entry * solo[column] >= 0.5 * scaled.low[row]))


def _exceeding(scaled: Scaled, found: Hull, loss: float) -> BoolArray:
    """Return which parts would be more than their row's level if their column were all on, by more than it is worth."""
    row, column, entry = scaled.entries
    used = found.switches > UNUSED
    full = np.where(used, found.amounts / np.where(used, found.switches, 1.0), 0.0)
    assert found.duals.levels is not None
    over = np.maximum(entry * full[column] - found.duals.levels[row], 0.0)
    return np.asarray(found.switches[column] * over**2 > NOTED * loss)


class _Layout:
    """Where the variables x, z, q, part, y, w and v of a state's relaxation stand; y of the plain rows only.

    A `part` and its `q` belong to an entry that stands alone or, after those, to the rest of a row.
    """

    def __init__(self, scaled: Scaled, state: State, alone: BoolArray) -> None:
        self.scaled, self.state, self.alone = scaled, state, alone
        self.columns = np.flatnonzero(state != OFF)
        self.place = np.full(len(state), -1)
        self.place[self.columns] = np.arange(len(self.columns))
        self.band = np.flatnonzero(scaled.banded)
        row, column, entry = scaled.entries
        here = self.place[column] >= 0
        lone, rest = here & alone, here & ~alone
        hulled = np.zeros(len(scaled.low), dtype=bool)
        hulled[row[lone]] = True
        pooled = rest & hulled[row]
        plain = rest & ~hulled[row]
        self.lone = row[lone], self.place[column[lone]], entry[lone]
        self.pooled = row[pooled], self.place[column[pooled]], entry[pooled]
        self.plain = row[plain], self.place[column[plain]], entry[plain]
        self.pools, self.of_pool = np.unique(self.pooled[0], return_inverse=True)
        self.squares, self.of_square = np.unique(self.plain[0], return_inverse=True)
        parts = len(self.lone[0]) + len(self.pools)
        sizes = [len(self.columns)] * 2 + [parts] * 2 + [len(self.squares)] + [len(self.band)] * 2
        starts = np.cumsum([0, *sizes])
        self.size = int(starts[-1])
        self.x, self.z, self.q, self.part, self.y, self.w, self.v = (
            np.arange(start, start + size) for start, size in zip(starts[:-1], sizes, strict=True)
        )

    def solve(self) -> tuple[FloatArray, FloatArray] | None:
        """Return variables and duals, or None."""
        cones = Cones()
        self._equalities(cones)
        cones.inequalities_begin()
        self._inequalities(cones)
        cones.threes_begin()
        first, single = 3 * np.arange(len(self.q)), len(self.lone[0])
        minus = np.array(-1.0)
        cones.add(
            np.zeros(3 * len(self.q)),
            (first, self.q, minus), (first, self.part, minus),
            (first + 1, self.q, minus), (first + 1, self.part, -minus),
            (first[:single] + 2, self.x[self.lone[1]], -2.0 * self.lone[2]),
            (first[single:][self.of_pool] + 2, self.x[self.pooled[1]], -2.0 * self.pooled[2]),
        )  # fmt: skip
        cost = np.zeros(self.size)
        cost[self.q] = 1.0
        share = np.where(self.scaled.banded, 0.0, self.scaled.low)
        cost[self.x] = -2.0 * self.scaled.products.weighed(share)[self.columns]
        return solved(cones, cost, np.concatenate([self.y, self.w]), CLOSE)

    def _equalities(self, cones: Cones) -> None:
        scaled, n = self.scaled, len(self.columns)
        self.batch = cones.add(np.ones(1), (np.zeros(n, dtype=np.int_), self.x, scaled.basis[self.columns]))
        content = scaled.content[np.ix_(self.band, self.columns)]
        row, column = np.nonzero(content)
        every, minus = np.arange(len(self.band)), np.array(-1.0)
        blocks = [(row, self.x[column], content[row, column]), (every, self.w, minus), (every, self.v, minus)]
        cones.add(np.zeros(len(self.band)), *blocks)
        every = np.arange(len(self.squares))
        filled = (self.of_square, self.x[self.plain[1]], self.plain[2])
        cones.add(np.zeros(len(every)), filled, (every, self.y, minus))
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
        cones.add(scaled.high[self.band], (np.arange(len(self.band)), self.v, one))
        cones.add(-scaled.low[self.band], (np.arange(len(self.band)), self.v, -one))
        limits, at, blocks = scaled.limits, self.place[scaled.limits.column], []
        for entry, variables in ((limits.amount, self.x), (limits.use, self.z)):
            here = (at >= 0) & (entry != 0)
            blocks.append((limits.row[here], variables[at[here]], entry[here]))
        self.limits = cones.add(scaled.most, *blocks)
        each = np.arange(len(self.lone[0]))
        cones.add(np.zeros(len(each)), (each, self.part[each], one), (each, self.z[self.lone[1]], -one))
        self.hulled, of_hull = np.unique(np.concatenate([self.lone[0], self.pools]), return_inverse=True)
        self.levels = cones.add(np.ones(len(self.hulled)), (of_hull, self.part, one))
        self._one_strength(cones)

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

    def read(self, v: FloatArray, duals: FloatArray, state: State) -> Hull:
        """Return amounts, switches and duals in the order of the columns, and their bound."""
        n, scaled = len(self.state), self.scaled
        amounts, switches = np.zeros(n), np.zeros(n)
        amounts[self.columns] = np.maximum(v[self.x], 0.0)
        switches[self.columns] = np.clip(v[self.z], 0.0, 1.0)
        levels = np.zeros(len(scaled.low))
        levels[self.hulled] = np.sqrt(np.maximum(duals[self.levels], 0.0))
        levels[self.squares] = np.maximum(v[self.y], 0.0)
        theta = np.where(scaled.banded, 0.0, 1.0)
        proof = Duals(-float(duals[self.batch][0]), np.maximum(duals[self.limits], 0.0), theta, levels)
        bound = bound_of(scaled, state, amounts, proof)
        # an interior point leaves a little everywhere; it counts for the bound and is no use after it
        return Hull(np.where(switches < UNUSED, 0.0, amounts), switches, proof, bound, self.alone)
