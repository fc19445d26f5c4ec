"""A node's relaxation: amounts between 0 and their maximum, over a working set of columns that grows."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray
from reaccord.solvers.exact.bound import Bound, Duals, bound_of
from reaccord.solvers.exact.feasibility import box, nearest_feasible, relaxed_price
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.qp import Point, Quadratic, polished, solve_quadratic
from reaccord.solvers.exact.refine import refined
from reaccord.solvers.exact.scaled import OFF, IntArray, Scaled, State
from reaccord.solvers.exact.trace import Note, Trace

BoolArray = NDArray[np.bool_]
ROUNDS, AT_ONCE = 60, 40
LOOSENED = 1e-9
REFINED_TO, REFINED_AGAIN = 1e-11, 3


@dataclass(frozen=True)
class Node:
    """A state with its relaxation solved.

    amounts : (n,)
        The relaxation's solution, at batch 1.
    bound
        What it proves for all formulas within the state, and the duals that prove it.
    working : (n,)
        Columns that the solution was found among.
    settled
        Whether the quadratic programme was solved; if not, `amounts` only come near.
    switches : (n,) or None
        The row hull's switches of a node that is by it.
    inherited
        What is proven for the parent holds here too; branching looks at the node's own bound.
    alone
        Which parts of rows stood alone in the last row hull above.
    within
        The programme with the amounts that are left here (see `narrowing`), None where nothing is known.
    stale
        Whether the bound is all that is known: point and duals are another programme's.
    trace
        Where it stands in the tree that is kept, None where that is large enough.
    """

    state: State
    amounts: FloatArray
    bound: Bound
    duals: Duals
    working: BoolArray
    settled: bool = True
    switches: FloatArray | None = None
    inherited: float = -math.inf
    alone: BoolArray | None = None
    within: Scaled | None = None
    stale: bool = False
    trace: Trace | None = None

    @property
    def note(self) -> Note:
        """Return what is kept of it."""
        return Note(self.amounts, self.duals, self.working, self.switches, self.alone)

    def noted(self) -> Node:
        """Return the node, what was solved kept in its trace."""
        if self.trace is not None:
            self.trace.note(self.note)
        return self

    @property
    def proven(self) -> float:
        """Return the best bound known: its own or its parent's."""
        return max(self.bound.value, self.inherited)


def solve_node(
    model: Model,
    state: State,
    working: BoolArray,
    accuracy: float,
    over: Callable[[], bool] = lambda: False,
    *,
    fine: bool = False,
) -> Node | None:
    """Return the node solved, or None when no formula within `state` exists (proven).

    `working` (n,) says where to begin; `accuracy` is the loss of bound, absolute, that does not matter. When `over`
    says that time is up the node is left unsettled. `fine` takes more pains over the last digits (see `refine`).
    """
    scaled = model.scaled
    working = (working | scaled.held(state)) & (state != OFF)
    near, loosened = None, 0.0
    for rounds in range(ROUNDS):
        if rounds and over():
            break
        columns = np.flatnonzero(working)
        quadratic = model.restricted(state, columns, loosened)
        point = solve_quadratic(quadratic)
        if point is not None:
            entering = _entering(model, state, working, full(model, state, columns, point), accuracy)
            if not len(entering):
                finished = _finished(model, state, columns, (quadratic, point), accuracy)
                return _refined(model, finished, columns, (quadratic, point), over) if fine else finished
            working[entering] = True
        elif near is None:
            near, hopeless = nearest_feasible(scaled, state)
            if hopeless:
                return None
            working = working | ((near > 0) & (state != OFF))
        elif loosened == 0.0:
            working, loosened = state != OFF, LOOSENED
        else:
            break
    return _unsettled(model, state, working, near)


def _finished(model: Model, state: State, columns: IntArray, solved: tuple[Quadratic, Point], accuracy: float) -> Node:
    """Return the node of a solved programme, made exact where its duals prove less than its value."""
    quadratic, point = solved
    amounts, duals = full(model, state, columns, point)
    bound = bound_of(model.scaled, state, amounts, duals)
    if model.value(quadratic, point.x) - bound.value > accuracy:
        amounts_exact, duals_exact = full(model, state, columns, polished(quadratic, point))
        bound_exact = bound_of(model.scaled, state, amounts_exact, duals_exact)
        if bound_exact.value > bound.value:
            amounts, duals, bound = amounts_exact, duals_exact, bound_exact
    return Node(state, amounts, bound, duals, (amounts > 1e-12) | model.scaled.held(state))


def _refined(
    model: Model, node: Node, columns: IntArray, solved: tuple[Quadratic, Point], over: Callable[[], bool]
) -> Node:
    """Return the node by duals that prove the value of its amounts to rounding, or as it was if they prove less."""
    quadratic, point = solved
    for _ in range(REFINED_AGAIN):
        value = model.scaled.value(node.amounts)
        if over() or value - node.bound.value <= REFINED_TO * value:
            break
        point = refined(model, columns, quadratic, point, over)
        amounts, duals = full(model, node.state, columns, point)
        bound = bound_of(model.scaled, node.state, amounts, duals)
        if bound.value > node.bound.value:
            node = replace(node, amounts=amounts, bound=bound, duals=duals)
    return replace(node, working=(node.amounts > 1e-12) | model.scaled.held(node.state))


def _unsettled(model: Model, state: State, working: BoolArray, near: FloatArray | None) -> Node:
    """Return a node that proves only what its nearest point proves without duals."""
    amounts = np.zeros(len(state)) if near is None else near
    duals = Duals(0.0, np.zeros(len(model.scaled.most)), model.scaled.products.achieved(amounts))
    return Node(state, amounts, bound_of(model.scaled, state, amounts, duals), duals, working, settled=False)


def full(model: Model, state: State, columns: IntArray, point: Point) -> tuple[FloatArray, Duals]:
    """Return the amounts of all columns (n,), inside their bounds, and the duals with their signs."""
    amounts = np.zeros(len(state))
    amounts[columns] = point.x[: len(columns)]
    low, high = box(model.scaled, state)
    limits, amounts = np.maximum(point.duals[1:], 0.0), np.clip(amounts, low, high)
    return amounts, Duals(-float(point.duals[0]), limits, model.scaled.products.achieved(amounts))


def _entering(
    model: Model, state: State, working: BoolArray, solved: tuple[FloatArray, Duals], accuracy: float
) -> IntArray:
    """Return the columns outside the working set that would improve the relaxation, the best first."""
    scaled, (amounts, duals) = model.scaled, solved
    outside = ~working & (state != OFF)
    if not outside.any():
        return np.zeros(0, dtype=np.int_)
    cost = scaled.products.weighed(2.0 * scaled.distance(amounts)) - duals.mu * scaled.basis
    cost = cost + relaxed_price(scaled, state, duals.limits)
    gain = np.where(outside, cost * np.minimum(scaled.maximum, 100.0), 0.0)
    order = np.argsort(gain, kind="stable")[:AT_ONCE]
    return order[gain[order] < -max(0.1 * accuracy / len(gain), 1e-12)]
