"""The search that begins where one of a programme much like it ended."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reaccord.contract import Budget, Programme
from reaccord.solvers.exact.bound import bound_of
from reaccord.solvers.exact.heuristic import ROUNDS
from reaccord.solvers.exact.node_qp import Node
from reaccord.solvers.exact.propagate import propagate
from reaccord.solvers.exact.record import Record
from reaccord.solvers.exact.replay import Replay, Shift
from reaccord.solvers.exact.scaled import OFF, Scaled, State
from reaccord.solvers.exact.search import Search
from reaccord.solvers.exact.trace import Trace

FEW = 2
"""Open nodes up to which the root is not solved again to see how its multipliers have moved."""
SOME = 2
"""Rounds of improving a formula that are worth as much as the row hull at the root."""
COARSE = 1e-5
"""The gap asked for from which on row hulls, solved to some digits, are worth their time where they were not needed."""
WORSE = 1.5
"""Times as much missing at the root as before: its multipliers have moved, and those below with them."""


class Resumed(Search):
    """The older formula comes first; then its tree says what is proven already, and what has to be solved again."""

    def __init__(self, programme: Programme, scaled: Scaled, budget: Budget, before: Record) -> None:
        super().__init__(programme, scaled, budget)
        self.before = before.over(self.frame, scaled)

    def root(self) -> bool:
        """Begin from the tree; where there is none, or no formula yet, from the root as ever."""
        self.formulas.again(self.budget.start, self.before.amounts)
        if self.best is not None:
            self._tell(0.0)
        tree, state = self.before.tree(), propagate(self.scaled, self.scaled.first_state())
        if state is None or tree is None or not tree.notes or not self._alike(state):
            return super().root()
        self.costs.take(self.before.rises, self.before.seen)
        if self.best is None or self.budget.over():
            return super().root()
        self.trace, self.relaxations.by_rows = tree, self.before.by_rows
        root = self._node(tree, state)
        moved = self.value - root.proven > WORSE * self.before.left
        before, again = root, self._again(root) if moved else root
        if again is None:
            return True
        coarse = self.before.suited and self.budget.gap >= COARSE
        both = moved and coarse and not self.before.by_rows
        self.formulas.improve(again.proven, SOME if both else ROUNDS)
        self._tighten()
        self.relaxations.by_rows = self.before.by_rows or coarse
        again = replace(again, state=np.where(self.scaled.maximum <= 0, OFF, again.state))
        again = self._by_rows_too(again) if both else again
        if again is not None:
            self._go_on_from(again, Shift(before.duals, again.duals) if moved else None)
        return True

    def _by_rows_too(self, root: Node) -> Node | None:
        """Return a root that the plain squares leave open by the row hull, where one before was closed by that alone.

        None if that closes it.
        """
        if root.proven >= self.cut or self.budget.over():
            return root
        again = self._again(root)
        if again is not None:
            self.formulas.improve(again.proven)
        if again is not None and again.proven < self.cut:
            self.formulas.afresh(again)
        return again

    def _alike(self, state: State) -> bool:
        """Whether nodes are by the relaxation that they were by before."""
        by_rows = self.scaled.count_row is not None
        return self._suits_rows(state) == self.before.suited and (self.before.by_rows or not by_rows)

    def _again(self, root: Node) -> Node | None:
        """Return the root solved again, None if that closes it; what it comes to is a formula to begin from too."""
        self.nodes += 1
        again = self._sharpened(root) if self.relaxations.by_rows else self._solved(root.state, root)
        if again is not None:
            self.formulas.round_off(again)
            if again.switches is not None:
                self.formulas.switched_on(again.switches)
        return again

    def _node(self, tree: Trace, state: State) -> Node:
        """Return the root by what was solved there last."""
        last = tree.notes[-1]
        return Node(
            state,
            last.point,
            bound_of(self.scaled, state, last.point, last.duals),
            last.duals,
            last.working,
            switches=last.switches,
            alone=last.alone,
            stale=True,
            trace=tree,
        )

    def _go_on_from(self, root: Node, shift: Shift | None) -> None:
        """Open what the tree below `root` leaves open; where that is much, the root is solved again first."""
        self.at_root = root.proven
        replay = Replay(self.scaled, self.cut, shift, self.budget.over).run(root)
        if shift is None and len(replay.open) > FEW and not self.budget.over():
            again = self._again(root)
            if again is None:
                return
            self._go_on_from(again, Shift(root.duals, again.duals))
            return
        self.closed = min(self.closed, replay.closed)
        for node in replay.open:
            self._push(node)
