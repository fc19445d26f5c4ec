"""Few columns to decide: plain quadratic programmes, branched on until nothing nearer is left.

A study of a dozen bottles takes a few of them, a twentieth of a millisecond each; the row hull, the first formulas and
the local search of `Search` take longer than that to set up. What is not settled in `MOST` nodes goes to `Search`.

A node's bound is the closed form of `bound` with nothing but tangents. For a convex `f`, any point, `mu` and
`limits >= 0`, and the slopes `r = f' - mu basis + amounts' limits` there:

    f(x) >= f(point) + mu (1 - basis @ point) - limits @ (most - amounts @ point) + sum_i least of r_i (x_i - point_i)
"""

from __future__ import annotations

import heapq
import math
from typing import NamedTuple

import numpy as np

from reaccord.contract import NEARLY_ZERO, Budget, FloatArray, Programme
from reaccord.solvers.exact.feasibility import nearest_feasible
from reaccord.solvers.exact.formula import BoolArray, Formula, keeps_switches, on_columns
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.presolve import from_value
from reaccord.solvers.exact.propagate import propagate
from reaccord.solvers.exact.qp import Point, Quadratic, polished, solve_quadratic
from reaccord.solvers.exact.scaled import FREE, OFF, ON, IntArray, Scaled, State

FEW, NARROW, MOST = 16, 40, 60
"""Columns to decide, columns in all, and nodes, up to which a programme is one of few."""
SAME = 1e-9
"""Relative: a bound this near to a value is no less."""
POURED, LEAST = 1e-12, 1e-6
"""Batches: of less nothing is poured; what is counted and is never more makes a switch per gram that spoils digits."""


class Settled(NamedTuple):
    """The best formula, none where nothing is possible; what is proven; the nodes it took."""

    formula: Formula | None
    bound: float
    nodes: int


def settle(programme: Programme, scaled: Scaled, budget: Budget) -> Settled | None:
    """Return the closest formula of a programme with few columns to decide, proven to the last digits or `budget.gap`.

    None where it is not one, or not that soon: then nothing is known. Nor where the target is met, mostly in many ways:
    of these the search finds short ones. Dilutions made bring grams that follow from others; what is poured of them is
    not plain enough.
    """
    if scaled.helpers.any():
        return None
    state = propagate(scaled, scaled.first_state())
    if state is None:
        return Settled(None, math.inf, 0)
    free = state == FREE
    if int(free.sum()) > FEW or int((state != OFF).sum()) > NARROW:
        return None
    counted = free & scaled.limits.columns_of(scaled.limits.use > 0)
    if float(scaled.maximum[counted].min(initial=np.inf)) < LEAST:
        return None
    return _Few(programme, scaled).run(state, budget)


class _Solved(NamedTuple):
    """A node solved: its columns, its quadratic programme over them, the solution, as amounts (n,) at batch 1 too."""

    columns: IntArray
    amounts: FloatArray
    quadratic: Quadratic
    point: Point

    def polished(self) -> _Solved:
        """Return it by what it holds at its ends, solved to rounding: of a small deviation DAQP leaves a part open."""
        point, count = polished(self.quadratic, self.point), len(self.columns)
        amounts = self.amounts.copy()
        amounts[self.columns] = np.clip(point.x[:count], self.quadratic.lower[:count], self.quadratic.upper[:count])
        return self._replace(amounts=amounts, point=point)


class _Few:
    """The search: open nodes, each a bound and a state, and the best amounts so far."""

    def __init__(self, programme: Programme, scaled: Scaled) -> None:
        self.programme, self.scaled, self.model = programme, scaled, Model(scaled)
        self.value, self.support = math.inf, np.zeros(len(scaled.basis), dtype=bool)
        self.maximum, self.endless = scaled.maximum, bool(np.isinf(scaled.maximum).any())
        self.closed, self.nodes = math.inf, 0

    def _cut(self) -> float:
        return self.value * (1.0 - SAME)

    def run(self, state: State, budget: Budget) -> Settled | None:
        """Search from a state on; None if it takes long, fails, or does not prove enough."""
        turn, nodes = 0, [(-math.inf, 0, state)]
        while nodes and nodes[0][0] < self._cut():
            if self.nodes >= MOST or budget.over():
                return None
            inherited, _, undecided = heapq.heappop(nodes)
            further = propagate(self.scaled, undecided) if turn else undecided
            if further is None:
                continue
            state = further
            self.nodes += 1
            node = self._solved(state)
            if node is None:
                if not nearest_feasible(self.scaled, state)[1]:
                    return None
                continue
            broken = keeps_switches(self.scaled, state, node.amounts)
            if not broken.any():
                self._offer(state, node.amounts)
            if self.value <= NEARLY_ZERO:
                return None
            bound = max(self._bound(state, node), inherited)
            if not broken.any() and bound < self.value * (1.0 - budget.gap):
                bound = max(bound, self._bound(state, node.polished()))
            if not broken.any() or bound >= self._cut():
                self.closed = min(self.closed, bound)
                continue
            for child in self._children(state, node.amounts, broken):
                turn += 1
                heapq.heappush(nodes, (bound, turn, child))
        self.closed = min([self.closed, *(bound for bound, _, _ in nodes[:1])])
        return self._answer(budget)

    def _answer(self, budget: Budget) -> Settled | None:
        if math.isinf(self.value):
            return Settled(None, math.inf, self.nodes)
        formula = on_columns(self.programme, self.model, self.support)
        if formula is None:
            return None
        bound = max(0.0, min(self.closed, formula.value))
        return Settled(formula, bound, self.nodes) if formula.value - bound <= budget.gap * formula.value else None

    def _offer(self, state: State, amounts: FloatArray) -> None:
        """Take amounts that keep every switch as the best if they are."""
        value = self.scaled.value(amounts)
        if value < self.value:
            self.value, self.support = value, (amounts > POURED) | self.scaled.held(state)
            if self.endless:  # nothing nearer pours more: columns without an end have one now
                self.maximum = np.minimum(self.maximum, from_value(self.scaled, value * (1 + SAME)))

    def _children(self, state: State, amounts: FloatArray, broken: BoolArray) -> list[State]:
        """Return what is left of a state without, and with, the column that both ways promise most of."""
        way = np.array([amounts, np.maximum(self.scaled.minimum - amounts, 0.0)])
        rise = self.scaled.products.curvature * way**2 + POURED
        column = int(np.argmax(np.where(broken, rise[0] * rise[1], -1.0)))
        without, with_it = state.copy(), state.copy()
        without[column], with_it[column] = OFF, ON
        return [without, with_it]

    def _solved(self, state: State) -> _Solved | None:
        """Return a node's quadratic programme solved; None if DAQP has no solution."""
        columns = np.flatnonzero(state != OFF)
        quadratic = self.model.restricted(state, columns)
        point = solve_quadratic(quadratic)
        if point is None:
            return None
        amounts = np.zeros(len(state))
        count = len(columns)
        amounts[columns] = np.minimum(np.maximum(point.x[:count], quadratic.lower[:count]), quadratic.upper[:count])
        return _Solved(columns, amounts, quadratic, point)

    def _bound(self, state: State, node: _Solved) -> float:
        """Return what the point and the duals of a node prove for formulas within its state that are no worse."""
        scaled, columns, quadratic = self.scaled, node.columns, node.quadratic
        rows, most = quadratic.rows[1:, : len(columns)], quadratic.upper[len(quadratic.linear) + 1 :]
        mu, limits = -float(node.point.duals[0]), np.maximum(node.point.duals[1:], 0.0)
        distance, x = scaled.distance(node.amounts), node.amounts[columns]
        slopes = scaled.products.weighed(2.0 * distance)[columns] - mu * scaled.basis[columns] + limits @ rows
        low = np.where(state[columns] == ON, scaled.minimum[columns], 0.0)
        ends = np.where(slopes < 0, self.maximum[columns], low)
        value = float(distance @ distance) + scaled.constant + mu * (1.0 - float(scaled.basis[columns] @ x))
        return value - float(limits @ (most - rows @ x)) + float(slopes @ (ends - x))
