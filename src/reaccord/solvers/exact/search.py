"""Best-first search: the node with the lowest bound is split until nothing below the best formula is left."""

from __future__ import annotations

import heapq
import math
from dataclasses import replace

import numpy as np

from reaccord.contract import NEARLY_ZERO, Effort, FloatArray, Programme, gap_of
from reaccord.solvers.exact.bound import decided
from reaccord.solvers.exact.branching import PATIENCE, TRIED, PseudoCosts, choices, score
from reaccord.solvers.exact.clock import Clock
from reaccord.solvers.exact.formula import BoolArray, Formula
from reaccord.solvers.exact.heuristic import Formulas
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.node_qp import Node
from reaccord.solvers.exact.presolve import from_value, settled
from reaccord.solvers.exact.propagate import propagate
from reaccord.solvers.exact.relaxations import Relaxations
from reaccord.solvers.exact.scaled import OFF, ON, Scaled, State

FINEST_GAP, FINEST = 1e-10, 1e-15
TOLD_EVERY, ROUNDED_EVERY = 25, 20
DECIDED_AGAIN = 4
# rounds of row relaxations at a node, the part of columns decided that is worth one more,
# the part of the gap that may be left for them to be used
ROW_ROUNDS, WORTH_AGAIN, WORTH_ROWS = 5, 0.05, 0.7
ROW_LOSS = 1e-4  # of the value, when the gap asked for is wider


class Search:
    """The search over one programme; `run` ends proven, exhausted or out of time."""

    def __init__(self, programme: Programme, scaled: Scaled, effort: Effort, clock: Clock) -> None:
        self.programme, self.scaled, self.effort, self.clock = programme, scaled, effort, clock
        self.relaxations = Relaxations(scaled)
        self.formulas = Formulas(programme, self.relaxations.plain, clock)
        self.costs = PseudoCosts(scaled)
        self.nodes = 0
        self.closed = math.inf  # the least bound of what was cut off or finished
        self._open: list[tuple[float, int, Node]] = []
        self._pushed = self._splits = 0
        self._root_node: Node | None = None

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
        gap = max(self.effort.gap * (1 - 1e-6), FINEST_GAP)
        return self.value * (1.0 - gap) if self.value > NEARLY_ZERO else -math.inf

    @property
    def accuracy(self) -> float:
        """Return the loss of bound that does not matter, absolute."""
        return 1e-6 if math.isinf(self.value) else max(0.02 * self.effort.gap * self.value, 1e-14)

    @property
    def _row_loss(self) -> float:
        """Return what a row relaxation may lose by leaving columns out, absolute."""
        return min(ROW_LOSS, 0.1 * self.effort.gap) * min(self.value, 1e300)

    @property
    def bound(self) -> float:
        """Return the least deviation not excluded so far."""
        lowest = self._open[0][0] if self._open else math.inf
        return max(0.0, min(self.closed, lowest, self.value))

    def run(self) -> bool:
        """Search; return whether all formulas were considered (else time ran out)."""
        if not self._root():
            return not self.clock.over()
        while self._open and self._open[0][0] < self.cut:
            if self.clock.over():
                return False
            if self.best is not None and self._root_node is not None:
                self._restart(self._root_node)
                continue
            node: Node | None = heapq.heappop(self._open)[2]
            if node is not None and node.switches is None and self.relaxations.by_rows:
                node = self._sharpened(node)
                if node is not None:
                    self._keep(node)
            elif node is not None and not self._split(node):
                self._push(node)
                return False
        return True

    def _root(self) -> bool:
        """Solve the root, find first formulas, decide columns; return whether the search may go on."""
        state = propagate(self.scaled, self.scaled.first_state())
        if state is None:
            return False
        root = self._relaxed(self.relaxations.plain, state, self.scaled.first_working())
        self.nodes += 1
        if root is None:
            return False
        self._first_formulas(root)
        if self.best is None:
            self._keep(root)
        else:  # it comes back with tighter bounds
            self._push(root)
        self._root_node = root
        return True

    def _first_formulas(self, root: Node) -> None:
        self.formulas.round_off(root)
        if not self.clock.over():
            self.formulas.dive(root)
        self.formulas.improve()

    def _restart(self, root: Node) -> None:
        """Begin again with a formula in hand: it bounds the amounts and decides columns."""
        self._root_node = None
        self._tighten()
        self._open.clear()
        node = self._solved(self.relaxations.plain, root.state.copy(), root)
        if node is None:
            return
        self.relaxations.by_rows = self.scaled.count_row is not None
        if self.scaled.groups and not self.clock.over():
            self._try_rows(node)
        self._keep(node)

    def _try_rows(self, node: Node) -> None:
        """Use row relaxations from here on if they close a good part of a node's gap."""
        sharper = self.relaxations.sharpened(node, self._row_loss).proven
        left = (self.value - sharper) / max(self.value - node.bound.value, 1e-300)
        self.relaxations.by_rows = left < WORTH_ROWS

    def _sharpened(self, node: Node) -> Node | None:
        """Return the node by its row relaxation, with what that decides; None if it closes."""
        for _ in range(ROW_ROUNDS):
            sharp = self.relaxations.sharpened(node, self._row_loss)
            self.nodes += 1
            if sharp.proven >= self.cut:
                self.closed = min(self.closed, sharp.proven)
                return None
            if sharp.switches is not None and sharp.switches.any():
                self._from_rows(sharp.switches)
            state, least = decided(self.scaled, sharp.state, sharp.bound, self.cut)
            self.closed = min(self.closed, least)
            further = propagate(self.scaled, state)
            if further is None:
                return None
            changed = float((further != sharp.state).mean())
            sharp = replace(sharp, state=further)
            if changed <= WORTH_AGAIN or self.clock.over():
                return sharp
            node = replace(sharp, switches=None)
        return sharp

    def _from_rows(self, switches: FloatArray) -> None:
        """Offer the columns that the row relaxation switches on, and improve on them."""
        before = self.best
        self.formulas.fill(np.where(switches > 1e-3, switches, 0.0))
        if self.best is not before:
            self.formulas.improve()

    def _tighten(self) -> None:
        """Bound the amounts by the value of the best formula: no better one lies beyond."""
        maximum = settled(self.scaled, from_value(self.scaled, self.value * (1 + 1e-9)))
        self.scaled = replace(self.scaled, maximum=maximum)
        self.relaxations = Relaxations(self.scaled)
        self.formulas.model = self.relaxations.plain

    def _solved(self, model: Model, state: State, parent: Node) -> Node | None:
        """Return the state solved with all decisions that follow, or None if nothing of interest is left."""
        state[self.scaled.maximum <= 0] = OFF
        working = parent.working
        for _ in range(DECIDED_AGAIN):
            further = propagate(self.scaled, state)
            node = None if further is None else self._relaxed(model, further, working)
            self.nodes += 1
            if node is None:
                return None
            node = replace(node, inherited=parent.proven)
            if node.proven >= self.cut:
                self.closed = min(self.closed, node.proven)
                return None
            state, least = decided(self.scaled, node.state, node.bound, self.cut)
            self.closed = min(self.closed, least)
            if not self._moved(node, state):
                return replace(node, state=state)
            working = node.working
        return node

    def _moved(self, node: Node, state: State) -> bool:
        """Return whether the decisions of `state` exclude the node's own amounts."""
        off = (state == OFF) & (node.amounts > 1e-12)
        on = (state == ON) & (node.amounts < self.scaled.minimum * (1 - 1e-9))
        return bool((off | on).any())

    def _relaxed(self, model: Model, state: State, working: BoolArray) -> Node | None:
        return self.relaxations.solve(model, state, working, self.cut, self.accuracy)

    def _keep(self, node: Node) -> None:
        """Keep a node open, or take its amounts as a formula if they keep every switch."""
        if self.relaxations.broken(node).any():
            self._push(node)
            return
        self.formulas.offer((node.amounts > 1e-12) | self.scaled.held(node.state))
        if node.proven < self.cut:
            exact = self.relaxations.exact(node, FINEST)
            if exact is None:
                return
            if self.relaxations.broken(exact).any():
                self._push(exact)
                return
            node = exact
        self.closed = min(self.closed, node.proven)

    def _push(self, node: Node) -> None:
        self._pushed += 1
        heapq.heappush(self._open, (node.proven, self._pushed, node))

    def _split(self, node: Node) -> bool:
        """Replace a node by its children; return False if time ran out before."""
        children = self._best_split(node)
        if children is None:
            return False
        for child in children:
            if child is not None and child.proven < self.cut:
                self._keep(child)
            elif child is not None:
                self.closed = min(self.closed, child.proven)
        self._now_and_then(node)
        return True

    def _best_split(self, node: Node) -> list[Node | None] | None:
        """Return the children on the column that promises most."""
        best: list[Node | None] | None = None
        best_score, waited = -1.0, 0
        model = self.relaxations.of_children(node)
        for tried, column in enumerate(self.costs.candidates(node, self.relaxations.broken(node))):
            if best is not None and (tried >= TRIED or waited >= PATIENCE or self.costs.known(int(column))):
                break
            pair = self._children(model, node, int(column))
            if pair is None:
                return best
            if pair[0] is None or not any(pair[1:]):
                return pair
            rises = [child.bound.value - node.bound.value for child in pair if child is not None]
            reached = float(score(np.array(rises[0]), np.array(min(rises[1:]))))
            waited = 0 if reached > best_score else waited + 1
            if reached > best_score:
                best, best_score = pair, reached
        return best

    def _children(self, model: Model, node: Node, column: int) -> list[Node | None] | None:
        """Return the children of a node on a column, without its use first; None if time ran out."""
        children: list[Node | None] = []
        none_left = self.cut if self.best is not None else 2.0 * node.bound.value + 1e-3
        for state in choices(self.scaled, node.state, column):
            if self.clock.over():
                return None
            children.append(self._solved(model, state, node))
        bounds = [none_left if child is None else child.bound.value for child in children]
        self.costs.learn(node, column, 0, bounds[0])
        self.costs.learn(node, column, 1, min(bounds[1:]))
        return children

    def _now_and_then(self, node: Node) -> None:
        self._splits += 1
        if self._splits % ROUNDED_EVERY == 0:
            self.formulas.round_off(node)
        if self.effort.progress is not None and self._splits % TOLD_EVERY == 0:
            self.effort.progress(self.value, self.bound, self.nodes)

    def proven(self) -> bool:
        """Return whether the best formula is proven within the gap asked for, or within the finest there is."""
        return self.best is not None and gap_of(self.value, self.bound) <= max(self.effort.gap, FINEST_GAP)
