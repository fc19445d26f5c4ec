"""Best-first search: the node with the lowest bound is split until nothing below the best formula is left."""

from __future__ import annotations

import heapq
import math
from dataclasses import replace
from functools import cached_property

import numpy as np

from reaccord.contract import NEARLY_ZERO, Budget, Programme, gap_of
from reaccord.solvers.exact.bound import Bound, Duals, decided
from reaccord.solvers.exact.branching import PseudoCosts
from reaccord.solvers.exact.formula import BoolArray, Formula
from reaccord.solvers.exact.heuristic import Formulas
from reaccord.solvers.exact.lots import Lots
from reaccord.solvers.exact.narrowing import learn
from reaccord.solvers.exact.node_qp import Node
from reaccord.solvers.exact.presolve import from_value, settled
from reaccord.solvers.exact.propagate import propagate
from reaccord.solvers.exact.record import MOST_TRACES, Frame, Record, flat
from reaccord.solvers.exact.relaxations import Relaxations
from reaccord.solvers.exact.scaled import FREE, OFF, Scaled, State
from reaccord.solvers.exact.splitting import Splitter
from reaccord.solvers.exact.trace import Trace

FINEST_GAP = 1e-10
TOLD_EVERY, ROUNDED_EVERY = 5, 20
DECIDED_AGAIN = 4
# rounds of row hulls at a node and the part of columns decided that is worth one more; columns from which on the
# root is by the row hull, columns poured by the plain root from which on all nodes are, loss of the first (of b'b)
ROW_ROUNDS, WORTH_AGAIN = 5, 0.05
LITTLE = 0.01  # of the gap asked for: what another round of improving must bring
MANY, WORTH_ROWS, FIRST_LOSS = 1200, 300, 2e-4
ROW_LOSS, LEFT_OUT = 0.1, 0.1  # of the gap asked for, of the way to the cut
TRACED = 1_000_000  # numbers, about, in the tree that is kept
LOOKS, FAR = (80, 300), 10.0  # nodes after which to look for closer formulas where so many gaps asked for are missing
LIKELY, AMONG = 0.1, 1000.0  # the switch of columns to search among for a closer formula, and nodes a missing whole
LOST = 0.01  # of what is missing: a loss in Clarabel's last digits that matters


class Search:
    """The search over one programme; `run` ends proven, exhausted or out of time."""

    def __init__(self, programme: Programme, scaled: Scaled, budget: Budget, *, nested: bool = False) -> None:
        self.programme, self.scaled, self.budget, self.nested = programme, scaled, budget, nested
        self.relaxations = Relaxations(scaled, budget.over)
        self.formulas = Formulas(programme, self.relaxations.plain, budget.over, LITTLE * budget.gap)
        self.costs = PseudoCosts(scaled)
        self.nodes = 0
        self.closed = math.inf  # the least bound of what was cut off or finished
        self._open: list[tuple[float, int, Node]] = []
        self._pushed = self._splits = self._traced = 0
        self._root_node: Node | None = None
        self._hulled_root: Node | None = None
        self._looks = list(LOOKS[:1] if nested else LOOKS)
        self._most_traced = min(MOST_TRACES, TRACED // (3 * len(scaled.basis) + len(scaled.entries[0]) // 8 + 1))
        self.trace, self.at_root = Trace.root(), -math.inf  # the bound proven at the root

    @cached_property
    def frame(self) -> Frame:
        """Return what the arrays of this search are over."""
        return Frame.of(self.programme, self.scaled)

    @cached_property
    def lots(self) -> Lots:
        """Return which of the columns nearly agree."""
        return Lots(self.scaled, self.scaled.first_state())

    @property
    def best(self) -> Formula | None:
        """Return the best formula so far."""
        return self.formulas.best

    @property
    def value(self) -> float:
        """Return the best formula's value, infinite without one."""
        return math.inf if self.best is None else self.best.value

    @property
    def cut(self) -> float:
        """Return the bound at which a node is of no more interest."""
        gap = max(self.budget.gap * (1 - 1e-6), FINEST_GAP)
        return self.value * (1.0 - gap) if self.value > NEARLY_ZERO else -math.inf

    @property
    def accuracy(self) -> float:
        """Return the loss of bound that does not matter, absolute."""
        return 1e-6 if math.isinf(self.value) else max(0.02 * self.budget.gap * self.value, 1e-14)

    def _row_loss(self, node: Node) -> float:
        """Return what a node's row hull may lose by leaving something out, absolute: little of what is missing."""
        return max(ROW_LOSS * self.budget.gap * min(self.value, 1e300), LEFT_OUT * (self.cut - node.proven))

    @property
    def bound(self) -> float:
        """Return the least deviation not excluded so far."""
        lowest = self._open[0][0] if self._open else math.inf
        return max(0.0, min(self.closed, lowest, self.value))

    def run(self) -> bool:
        """Search; return whether all formulas were considered (else time ran out)."""
        if not self.root():
            return not self.budget.over()
        while self._open and self._open[0][0] < self.cut:
            if self.budget.over():
                return False
            if self.best is not None and self._root_node is not None:
                self._restart(self._root_node)
                continue
            node = heapq.heappop(self._open)[2]
            if node.stale:
                self._renew(node)
            elif not self._split(node):
                self._push(node)
                return False
        return True

    def root(self) -> bool:
        """Solve the root, find first formulas, decide columns; return whether the search may go on."""
        state = propagate(self.scaled, self.scaled.first_state())
        if state is None:
            return False
        working = self.scaled.first_working()
        root = self._first_by_rows(state, working) if self._suits_rows(state) else None
        root = self._relaxed(state, working) if root is None else root
        self.nodes += 1
        if root is None or root.proven == math.inf:
            return False
        root = replace(root, trace=self.trace).noted()
        self.formulas.first(root, self.budget.start)
        if self.best is None:
            self._keep(root)
        else:  # it comes back with tighter bounds
            self._push(root)
        self._root_node, self.at_root = root, root.proven
        self._tell(self.bound)
        return True

    def _renew(self, node: Node) -> None:
        """Solve a node of an older tree again."""
        solved = self._hulled if self.relaxations.by_rows else self._solved
        again = solved(node.state, node)
        if again is not None:
            self._keep(again)

    def _suits_rows(self, state: State) -> bool:
        """Whether the root should be by the row hull."""
        free = int((state == FREE).sum())
        return free > 0 and (free > MANY or self.scaled.count_row is not None or bool(self.scaled.groups))

    def _first_by_rows(self, state: State, working: BoolArray) -> Node | None:
        """Return the root by the row hull: with thousands of columns it needs far fewer of them than plain squares."""
        none = np.zeros(len(state))
        nothing = Node(state, none, Bound(-math.inf, none, none), Duals(0.0, none[:0], none[:0]), working)
        return self.relaxations.sharpened(nothing, FIRST_LOSS * float(self.scaled.low @ self.scaled.low))

    def _restart(self, root: Node) -> None:
        """Begin again with a formula in hand: it bounds the amounts and decides columns."""
        self._root_node = None
        self._tighten()
        self._open.clear()
        state = root.state.copy()
        state[self.scaled.maximum <= 0] = OFF
        node = replace(root, state=state) if root.switches is not None else self._solved(state, root)
        if node is None:
            return
        many = int((node.amounts > 0).sum()) > WORTH_ROWS
        self.relaxations.by_rows = root.switches is not None or many or self.scaled.count_row is not None
        if self.relaxations.by_rows and not self.budget.over():
            node = self._sharpened(node, ROW_LOSS * self.budget.gap * self.value)
        if node is not None:
            self.at_root, self._hulled_root = node.proven, node
            self._keep(node)

    def _look_further(self) -> None:
        """Look for closer formulas where nodes prove little: it costs as much as some, so not before they are many."""
        root = self._hulled_root
        if not self._looks or self.nodes < self._looks[0] or root is None or root.switches is None:
            return
        self._looks.pop(0)
        if gap_of(self.value, self.bound) <= FAR * self.budget.gap:
            return
        if self._looks or self.nested:
            self.formulas.elsewhere(root)
        else:
            self._among_likely(root)

    def _among_likely(self, root: Node) -> None:
        """Search a little among the columns that the root switches on and those of the best formula."""
        assert self.best is not None and root.switches is not None
        likely = (root.switches > LIKELY) | self.best.support | self.scaled.helpers
        part = self.scaled.with_maximum(np.where(likely, self.scaled.maximum, 0.0))

        most = AMONG * gap_of(self.value, self.bound)

        def over() -> bool:
            return self.budget.over() or inner.nodes > most

        budget = replace(self.budget, start=self.best.amounts, progress=None, found=None, stop=over)
        inner = Search(self.programme, part, budget, nested=True)
        inner.run()
        self.nodes += inner.nodes
        if inner.best is not None and inner.value < self.value:
            self.formulas.offer(inner.best.support, fine=True)

    def _sharpened(self, node: Node, loss: float | None = None) -> Node | None:
        """Return the node by its row hull, with what that decides; None if it closes. `loss` may be lost (absolute)."""
        for _ in range(ROW_ROUNDS):
            sharp = self.relaxations.sharpened(node, self._row_loss(node) if loss is None else loss, self.cut)
            self.nodes += 1
            if sharp is None:  # Clarabel found nothing, or nothing better
                return self._solved(node.state, node)
            sharp = replace(sharp, trace=node.trace).noted()
            if sharp.proven >= self.cut:
                self.closed = min(self.closed, sharp.proven)
                return None
            learned = learn(self.scaled, sharp, self.cut)
            self.closed = min(self.closed, learned.least)
            if learned.state is None:
                return None
            changed = float((learned.state != sharp.state).sum()) / max(int((sharp.state == FREE).sum()), 1)
            sharp = replace(sharp, state=learned.state, within=learned.within)
            if changed <= WORTH_AGAIN or self.budget.over():
                break
            node = sharp
        return sharp

    def _tighten(self) -> None:
        """Bound the amounts by the value of the best formula: no better one lies beyond."""
        maximum = settled(self.scaled, from_value(self.scaled, self.value * (1 + 1e-9)))
        self.scaled = self.scaled.with_maximum(maximum)
        self.relaxations = Relaxations(self.scaled, self.budget.over)
        self.formulas.model = self.relaxations.plain

    def _solved(self, state: State, parent: Node) -> Node | None:
        """Return the state solved with all decisions that follow, or None if nothing of interest is left."""
        working = parent.working
        for _ in range(DECIDED_AGAIN):
            further = propagate(self.scaled, state)
            node = None if further is None else self._relaxed(further, working)
            self.nodes += 1
            if node is None:
                return None
            node = replace(
                node, inherited=parent.proven, alone=parent.alone, trace=parent.trace, within=parent.within
            ).noted()
            if node.proven >= self.cut:
                self.closed = min(self.closed, node.proven)
                return None
            state, least = decided(self.scaled, node.state, node.bound, self.cut)
            self.closed = min(self.closed, least)
            if not self.relaxations.excluded(node, state):
                return replace(node, state=state)
            if self.budget.over():
                break
            working = node.working
        return node

    def _relaxed(self, state: State, working: BoolArray) -> Node | None:
        return self.relaxations.solve(state, working, self.accuracy)

    def _hulled(self, state: State, parent: Node) -> Node | None:
        """Return the state by the row hull, as `_solved` does by the plain relaxation.

        Less than the parent proves is a loss in Clarabel's last digits: where it matters the plain squares have more.
        """
        further = propagate(parent.within or self.scaled, state)
        if further is None:
            return None
        node = self._sharpened(replace(parent, state=further, inherited=parent.proven))
        if node is None or node.switches is None:
            return node
        if node.inherited - node.bound.value <= LOST * max(self.cut - node.proven, 0.0) or self.budget.over():
            return node
        plain = self._solved(node.state, node)
        return plain if plain is None or plain.bound.value > node.bound.value else node

    def _keep(self, node: Node) -> None:
        """Keep a node open, or take its amounts as a formula if they keep every switch and it proves them."""
        broken = self.relaxations.broken(node).any()
        if not broken:
            self.formulas.offer(self.relaxations.poured(node))
        if not broken and node.proven < self.cut and not self.budget.over():
            exact = self.relaxations.exact(node)
            if exact is None:
                return
            node = replace(exact, trace=node.trace).noted()
            broken = self.relaxations.broken(node).any()
            if not broken and self.scaled.value(node.amounts) < self.value:
                self.formulas.offer(self.relaxations.poured(node), fine=True)
        # a formula worse than its node, or not to be had, is no end of the node while something is free
        if broken or (node.proven < self.cut and (node.state == FREE).any()):
            self._push(node)
        else:
            self.closed = min(self.closed, node.proven)

    def _push(self, node: Node) -> None:
        self._pushed += 1
        heapq.heappush(self._open, (node.proven, self._pushed, node))

    def _split(self, node: Node) -> bool:
        """Replace a node by its children; return False if time ran out before."""
        if node.switches is not None:
            self.formulas.improve_from(node.switches)
        solved = self._hulled if self.relaxations.by_rows else self._solved
        splitter = Splitter(self.scaled, self.costs, self.lots, solved, self.budget.over)
        closed = self.cut if self.best is not None else 2.0 * node.bound.value + 1e-3
        split = splitter.split(node, self.relaxations.undecided(node), closed)
        if split is None:
            return False
        if node.trace is not None and self._traced < self._most_traced:
            node.trace.children = split.traces
            self._traced += len(split.traces)
        for child in split.children:
            if child is not None and child.proven < self.cut:
                self._keep(child)
            elif child is not None:
                self.closed = min(self.closed, child.proven)
        self._now_and_then(node)
        return True

    def _now_and_then(self, node: Node) -> None:
        self._splits += 1
        self._look_further()
        if self._splits % ROUNDED_EVERY == 0:
            self.formulas.round_off(node)
        if self._splits % TOLD_EVERY == 0:
            self._tell(self.bound)

    def _tell(self, bound: float) -> None:
        if self.budget.found is not None and self.best is not None:
            self.budget.found(self.best.amounts)
        if self.budget.progress is not None:
            self.budget.progress(self.value, bound, self.nodes)

    def left_behind(self) -> Record:
        """Return what a later search can begin from."""
        amounts = None if self.best is None else self.best.amounts
        suited = self._suits_rows(self.scaled.first_state())
        rises, seen = self.costs.learnt()
        left = self.value - self.at_root
        return Record(self.frame, flat(self.trace), rises, seen, self.relaxations.by_rows, suited, left, amounts)

    def proven(self) -> bool:
        """Return whether the best formula is proven within the gap asked for, or within the finest there is."""
        return self.best is not None and gap_of(self.value, self.bound) <= max(self.budget.gap, FINEST_GAP)
