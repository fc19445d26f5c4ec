"""Which relaxation a node gets: plain squares, rows split as its parent's were, or the row relaxation.

The row relaxation proves most and costs most. So children are solved by quadratic programmes first, the rows
split as their parent's row relaxation says, and only a node that comes up for splitting gets one of its own.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reaccord.solvers.exact.formula import BoolArray, keeps_switches
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.node_qp import Node, solve_node
from reaccord.solvers.exact.row_relaxation import relax_rows
from reaccord.solvers.exact.scaled import FREE, Scaled, State

FEW = 60
MOST_SPLIT = 0.995
"""Splitting a row wholly leaves its amounts without curvature: a singular programme."""


class Relaxations:
    """The models of one programme; `by_rows` says whether row relaxations are worth their time."""

    def __init__(self, scaled: Scaled) -> None:
        self.scaled = scaled
        self.plain = Model.plain(scaled)
        self.by_rows = False

    def of_children(self, node: Node) -> Model:
        """Return the model in which the children of a node are solved first."""
        if node.switches is None or not node.duals.theta.any():
            return self.plain
        row = self.scaled.count_row
        charge = None if row is None else float(node.duals.limits[row] * self.scaled.used[row].max())
        return Model(self.scaled, np.minimum(node.duals.theta, MOST_SPLIT), charge)

    def solve(self, model: Model, state: State, working: BoolArray, cut: float, accuracy: float) -> Node | None:
        """Return the node by `model`, or by the plain one if that proves more; None if no formula is left."""
        node = solve_node(model, state, working, accuracy)
        if model is self.plain or node is None or node.bound.value >= cut or model.charge is not None:
            return node
        other = solve_node(self.plain, state, node.working, accuracy)
        return other if other is None or other.bound.value > node.bound.value else node

    def sharpened(self, node: Node, loss: float) -> Node:
        """Return the node by its own row relaxation if that proves more; `loss` (absolute) may be lost."""
        relaxed = relax_rows(self.scaled, node.state, self._likely(node), loss)
        if relaxed is None or (relaxed.bound.value <= node.bound.value and not node.duals.theta.any()):
            return replace(node, switches=np.zeros(len(node.state)))
        working = (relaxed.amounts > 0) | self.scaled.held(node.state)
        return Node(
            node.state, relaxed.amounts, relaxed.bound, relaxed.duals, working, True, relaxed.switches, node.proven
        )

    def _likely(self, node: Node) -> BoolArray:
        """Return the working columns and the free ones that promise most, all if they are few; (n,)."""
        free = node.state == FREE
        promising = np.argsort(np.where(free, node.bound.worth, np.inf), kind="stable")[:FEW]
        likely = node.working.copy()
        likely[promising] = True
        return likely

    def exact(self, node: Node, accuracy: float) -> Node | None:
        """Return the node by the plain relaxation: it proves the value of its amounts where they keep all."""
        other = solve_node(self.plain, node.state, node.working, accuracy)
        if other is None:
            return None
        return replace(other, switches=np.zeros(len(node.state)), inherited=node.proven)

    def broken(self, node: Node) -> BoolArray:
        """Return the free columns to decide, none if the node's amounts keep every switch."""
        if node.switches is not None and node.duals.theta.any():
            partly = (node.state == FREE) & (node.switches > 1e-5) & (node.switches < 1 - 1e-5)
            if partly.any():
                return np.asarray(partly)
        broken = keeps_switches(self.scaled, node.state, node.amounts)
        if not node.settled and not broken.any():
            return np.asarray(node.state == FREE)
        return broken
