"""The row relaxation, a second-order cone programme: how much of each row to state as separable terms.

    minimise  sum_j e_j - 2 b_j y_j + b'b
        with  e_j >= y_j^2,  e_j >= sum_i content_ji^2 s_i,  s_i z_i >= x_i^2,
              minimum_i z_i <= x_i <= maximum_i z_i  and every limit in x and z

over share rows; band rows keep their distance. Contents and amounts are not negative, so the second row loses
no formula. Its dual `theta` and those of the batch row and of the limits go into the closed form of `bound`;
Clarabel's own word counts for nothing. `row_hull` proves more; certificates are made from this one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray
from reaccord.solvers.exact.bound import Bound, Duals, bound_of
from reaccord.solvers.exact.cones import Cones, solved
from reaccord.solvers.exact.scaled import FREE, OFF, ON, IntArray, Scaled, State

BoolArray = NDArray[np.bool_]
LARGE, UNUSED = 1e4, 1e-5
ROUNDS, AT_ONCE, CLOSE = 12, 60, 1e-6


@dataclass(frozen=True)
class Relaxed:
    """Solution of the row relaxation: amounts and switches (n,), and what the duals prove."""

    amounts: FloatArray
    switches: FloatArray
    duals: Duals
    bound: Bound


def relax_rows(scaled: Scaled, state: State, among: BoolArray, loss: float) -> Relaxed | None:
    """Return the relaxation of a state solved, or None if Clarabel fails.

    It begins with the columns of `among` (n,) and takes in others as long as they lower the bound by more
    than `loss`; the bound counts all of them anyway.
    """
    among = (among | (state == ON)) & (state != OFF)
    best: Relaxed | None = None
    for _ in range(ROUNDS):
        found = _solved(scaled, state, among)
        if found is None:
            return best
        if best is None or found.bound.value > best.bound.value:
            best = found
        outside = (state == FREE) & ~among
        gain = np.where(outside, np.minimum(found.bound.worth, 0.0), 0.0)
        if float(gain.sum()) >= -loss:
            break
        order = np.argsort(gain, kind="stable")[:AT_ONCE]
        among = among.copy()
        among[order[gain[order] < 0]] = True
    return best


def _solved(scaled: Scaled, state: State, among: BoolArray) -> Relaxed | None:
    """Return the relaxation with the columns of `among` only, its bound over all of them."""
    layout = _Layout(scaled, np.where(among, state, OFF).astype(np.int8))
    answer = solved(layout.cones(), layout.cost(), layout.w, CLOSE)
    return None if answer is None else layout.read(*answer, state)


class _Layout:
    """Where the variables x, z, s, e, y, w and v of a state's relaxation stand."""

    def __init__(self, scaled: Scaled, state: State) -> None:
        self.scaled, self.state = scaled, state
        self.columns = np.flatnonzero(state != OFF)
        self.free = np.flatnonzero(state[self.columns] == FREE)
        self.share, self.band = np.flatnonzero(~scaled.banded), np.flatnonzero(scaled.banded)
        sizes = [len(self.columns)] * 3 + [len(self.share)] * 2 + [len(self.band)] * 2
        starts = np.cumsum([0, *sizes])
        self.size = int(starts[-1])
        self.x, self.z, self.s, self.e, self.y, self.w, self.v = (
            np.arange(start, start + size) for start, size in zip(starts[:-1], sizes, strict=True)
        )

    def cost(self) -> FloatArray:
        """Return the linear objective."""
        cost = np.zeros(self.size)
        cost[self.e], cost[self.y] = 1.0, -2.0 * self.scaled.low[self.share]
        return cost

    def cones(self) -> Cones:
        """Return all rows: equalities, inequalities, then cones of three."""
        rows = Cones()
        self._equalities(rows)
        rows.inequalities_begin()
        self._inequalities(rows)
        rows.threes_begin()
        self._rotated(rows, self.s, self.z, self.x)
        self._rotated(rows, self.e, None, self.y)
        return rows

    def _equalities(self, rows: Cones) -> None:
        scaled, n = self.scaled, len(self.columns)
        none = np.zeros(n, dtype=np.int_)
        self.batch = rows.add(np.ones(1), (none, self.x, scaled.basis[self.columns]))
        for targets, other, chosen in ((self.y, None, self.share), (self.w, self.v, self.band)):
            content = scaled.content[np.ix_(chosen, self.columns)]
            row, column = np.nonzero(content)
            every = np.arange(len(chosen))
            blocks = [(row, self.x[column], content[row, column]), (every, targets, np.array(-1.0))]
            if other is not None:
                blocks.append((every, other, np.array(-1.0)))
            rows.add(np.zeros(len(chosen)), *blocks)
        on = np.flatnonzero(self.state[self.columns] == ON)
        rows.add(np.ones(len(on)), (np.arange(len(on)), self.z[on], np.array(1.0)))

    def _inequalities(self, rows: Cones) -> None:
        scaled, columns, every = self.scaled, self.columns, np.arange(len(self.columns))
        minimum, maximum = scaled.minimum[columns], np.minimum(scaled.maximum[columns], LARGE)
        rows.add(np.zeros(len(every)), (every, self.x, np.array(-1.0)), (every, self.z, minimum))
        rows.add(np.zeros(len(every)), (every, self.x, np.array(1.0)), (every, self.z, -maximum))
        within = np.arange(len(self.free))
        rows.add(np.ones(len(self.free)), (within, self.z[self.free], np.array(1.0)))
        rows.add(scaled.high[self.band], (np.arange(len(self.band)), self.v, np.array(1.0)))
        rows.add(-scaled.low[self.band], (np.arange(len(self.band)), self.v, np.array(-1.0)))
        blocks = []
        for entries, variables in ((scaled.amounts[:, columns], self.x), (scaled.used[:, columns], self.z)):
            row, column = np.nonzero(entries)
            blocks.append((row, variables[column], entries[row, column]))
        self.limits = rows.add(scaled.most, *blocks)
        squares = scaled.content[np.ix_(self.share, columns)] ** 2
        row, column = np.nonzero(squares)
        shares = np.arange(len(self.share))
        spread = (row, self.s[column], squares[row, column])
        self.theta = rows.add(np.zeros(len(shares)), (shares, self.e, np.array(-1.0)), spread)
        self._one_strength(rows)

    def _one_strength(self, rows: Cones) -> None:
        """Of strengths of one stock each, the switches sum to at most 1."""
        place = np.full(len(self.state), -1)
        place[self.columns] = np.arange(len(self.columns))
        for strengths in self.scaled.groups:
            if all(len(columns) == 1 for columns in strengths):
                at = place[np.concatenate(strengths)]
                at = at[at >= 0]
                rows.add(np.ones(1), (np.zeros(len(at), dtype=np.int_), self.z[at], np.array(1.0)))

    def _rotated(self, rows: Cones, big: IntArray, other: IntArray | None, root: IntArray) -> None:
        """Add `big * other >= root^2` (`other` None: 1) as cones (big + other, big - other, 2 root)."""
        first = 3 * np.arange(len(big))
        minus = np.array(-1.0)
        blocks = [(first, big, minus), (first + 1, big, minus), (first + 2, root, np.array(-2.0))]
        right = np.zeros(3 * len(big))
        if other is None:
            right[first], right[first + 1] = 1.0, -1.0
        else:
            blocks += [(first, other, minus), (first + 1, other, np.array(1.0))]
        rows.add(right, *blocks)

    def read(self, v: FloatArray, duals: FloatArray, state: State) -> Relaxed:
        """Return amounts, switches and duals in the order of the columns, and their bound."""
        n = len(self.state)
        amounts, switches = np.zeros(n), np.zeros(n)
        amounts[self.columns] = np.maximum(v[self.x], 0.0)
        switches[self.columns] = np.clip(v[self.z], 0.0, 1.0)
        theta = np.zeros(len(self.scaled.low))
        theta[self.share] = np.clip(duals[self.theta], 0.0, 1.0)
        proof = Duals(-float(duals[self.batch][0]), np.maximum(duals[self.limits], 0.0), theta)
        bound = bound_of(self.scaled, state, amounts, proof)
        # an interior point leaves a little everywhere; it counts for the bound and is no use after it
        return Relaxed(np.where(switches < UNUSED, 0.0, amounts), switches, proof, bound)
