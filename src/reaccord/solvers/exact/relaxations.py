"""Which relaxation a node gets: plain squares by a quadratic programme, or the row hull by a cone programme.

The row hull proves most and costs most: some 5 ms against 1. Where lines count the plain squares prove next to
nothing, so every node is by the row hull; elsewhere it has to show that it closes a good part of the gap.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from reaccord.solvers.exact.formula import BoolArray, keeps_switches
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.node_qp import REFINED_TO, Node, solve_node
from reaccord.solvers.exact.row_hull import relax_hull
from reaccord.solvers.exact.scaled import FREE, OFF, ON, Scaled, State

FEW = 25
FINEST, AGAIN = 1e-15, 5


class Relaxations:
    """The models of one programme; `by_rows` says whether row relaxations are worth their time."""

    def __init__(self, scaled: Scaled, over: Callable[[], bool]) -> None:
        self.scaled, self._over = scaled, over
        self.plain = Model(scaled)
        self.by_rows = False

    def solve(self, state: State, working: BoolArray, accuracy: float) -> Node | None:
        """Return the node by the plain relaxation; None if no formula is left."""
        return solve_node(self.plain, state, working, accuracy, self._over)

    def sharpened(self, node: Node, loss: float, enough: float = math.inf) -> Node | None:
        """Return the node by its own row hull if that proves anything; `loss` (absolute) may be lost."""
        relaxed = relax_hull(
            node.within or self.scaled, node.state, self._likely(node), loss, node.alone, self._over, enough
        )
        if relaxed is None or (relaxed.bound.value <= node.bound.value and node.switches is None):
            return None
        working = (relaxed.amounts > 0) | self.scaled.held(node.state)
        return Node(
            node.state,
            relaxed.amounts,
            relaxed.bound,
            relaxed.duals,
            working,
            switches=relaxed.switches,
            inherited=node.proven,
            alone=relaxed.alone,
            within=node.within,
        )

    def _likely(self, node: Node) -> BoolArray:
        """Return the working columns and the free ones that promise most, all if they are few; (n,)."""
        free = node.state == FREE
        promising = np.argsort(np.where(free, node.bound.worth, np.inf), kind="stable")[:FEW]
        likely = node.working.copy()
        likely[promising] = True
        return likely

    def exact(self, node: Node) -> Node | None:
        """Return the node by the plain relaxation: it proves the value of its amounts where they keep all."""
        working, other = node.working, None
        for _ in range(AGAIN):
            other = solve_node(self.plain, node.state, working, FINEST, self._over, fine=True)
            if other is None:
                return None
            left_out = (other.bound.taken < 0) & ~working & ~other.working
            if float(other.bound.taken[left_out].sum()) >= -REFINED_TO * self.scaled.value(other.amounts):
                break
            working = working | other.working | left_out
        assert other is not None
        return replace(other, inherited=node.proven, within=node.within)

    def poured(self, node: Node) -> BoolArray:
        """Return the columns that the node's amounts pour, (n,)."""
        return np.asarray((node.amounts > 1e-12) | self.scaled.held(node.state))

    def undecided(self, node: Node) -> BoolArray:
        """Return the free columns that have to be decided, all of a node whose amounts break nothing, (n,)."""
        broken = self.broken(node)
        return broken if broken.any() else np.asarray(node.state == FREE)

    def excluded(self, node: Node, state: State) -> bool:
        """Return whether the decisions of `state` exclude the node's own amounts."""
        off = (state == OFF) & (node.amounts > 1e-12)
        on = (state == ON) & (node.amounts < self.scaled.minimum * (1 - 1e-9))
        return bool((off | on).any())

    def broken(self, node: Node) -> BoolArray:
        """Return the free columns to decide, none if the node's amounts keep every switch."""
        if node.switches is not None:
            partly = (node.state == FREE) & (node.switches > 1e-5) & (node.switches < 1 - 1e-5)
            if partly.any():
                return np.asarray(partly)
        broken = keeps_switches(self.scaled, node.state, node.amounts)
        if not node.settled and not broken.any():
            return np.asarray(node.state == FREE)
        return broken
