"""The search that begins where one of a programme much like it ended."""

from __future__ import annotations

from reaccord.contract import Budget, Programme
from reaccord.solvers.exact.bound import bound_of
from reaccord.solvers.exact.node_qp import Node
from reaccord.solvers.exact.propagate import propagate
from reaccord.solvers.exact.record import Record
from reaccord.solvers.exact.replay import Replay, Shift
from reaccord.solvers.exact.scaled import OFF, Scaled, State
from reaccord.solvers.exact.search import Search
from reaccord.solvers.exact.trace import Trace

FEW = 2
"""Open nodes up to which the root is not solved again to see how its multipliers have moved."""


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
        tree, state = self.before.tree(), propagate(self.scaled, self.scaled.first_state())
        if state is None or tree is None or not tree.notes or self._suits_rows(state) != self.before.suited:
            return super().root()
        self.costs.take(self.before.rises, self.before.seen)
        if self.best is None or self.budget.over():
            return super().root()
        self._tell(0.0)
        self.formulas.improve()
        self._tighten()
        state[self.scaled.maximum <= 0] = OFF
        self.relaxations.by_rows = self.before.by_rows
        self.trace = tree
        root = self._node(tree, state)
        self.at_root = root.proven
        self._go_on_from(root)
        return True

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

    def _go_on_from(self, root: Node) -> None:
        """Open what the tree below `root` leaves open; where that is much, the root is solved again first."""
        moved = self.value - root.proven > WORSE * self.before.left
        replay = None if moved else Replay(self.scaled, self.cut, None, self.budget.over).run(root)
        if (replay is None or len(replay.open) > FEW) and not self.budget.over():
            again = self._sharpened(root) if self.relaxations.by_rows else self._solved(root.state, root)
            if again is None:
                return
            self.at_root = again.proven
            replay = Replay(self.scaled, self.cut, Shift(root.duals, again.duals), self.budget.over).run(again)
        if replay is None:
            self._push(root)
            return
        self.closed = min(self.closed, replay.closed)
        for node in replay.open:
            self._push(node)
