"""Formulas early: round the relaxation, dive, then improve by dropping, adding and swapping columns."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from reaccord.contract import NEARLY_ZERO, FloatArray, Programme
from reaccord.solvers.exact.formula import BoolArray, Formula, keeps_switches, on_columns
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.neighbours import estimated, supports
from reaccord.solvers.exact.node_qp import Node, solve_node
from reaccord.solvers.exact.propagate import propagate
from reaccord.solvers.exact.scaled import FREE, OFF, ON

TRIED_A_ROUND, ROUNDS, DIVES = 25, 40, 200
TRUSTED, HOPE, WORSE = 0.5, 0.02, 0.3
"""Of what a step brought, of the value, of the value: what the next step must promise, how much worse the first one
may look, and how much worse one may look that others are begun from."""


class Formulas:
    """Keeps the best formula found and remembers which choices of columns were tried.

    `little` is the part of the value that is not worth another round of improving.
    """

    def __init__(self, programme: Programme, model: Model, over: Callable[[], bool], little: float) -> None:
        self.programme, self.model, self.over, self.little = programme, model, over, little
        self.best: Formula | None = None
        self._seen: set[bytes] = set()

    def offer(self, support: BoolArray, *, fine: bool = False) -> None:
        """Take the best formula with exactly these columns if it is better than the best so far.

        `fine` takes more pains over the last digits, also where these columns were tried before.
        """
        self._tried(support, math.inf if self.best is None else self.best.value, fine=fine)

    def _tried(self, support: BoolArray, below: float, *, fine: bool = False) -> Formula | None:
        """Return the best formula with exactly these columns if its value is `below`; None if tried before."""
        support = support | self.model.scaled.helpers
        key = np.packbits(support).tobytes()
        if (key in self._seen and not fine) or not self._allowed(support):
            return None
        self._seen.add(key)
        formula = on_columns(self.programme, self.model, support, below, self.over, fine=fine)
        if formula is not None and (self.best is None or formula.value < self.best.value):
            self.best = formula
        return formula

    def first(self, root: Node, start: FloatArray | None) -> None:
        """Find formulas from `start` and from the root: rounded, by a dive where that is quick, and a step away.

        The first is tried for whatever the time: it is as quick as anything that could be left out.
        """
        if start is not None:
            self.offer(start > 0)
        self.round_off(root)
        if root.switches is not None and not self._enough():
            self.switched_on(root.switches)
        if not self.over() and (self.best is None or root.switches is None):
            self.dive(root)
        self.improve(root.proven)

    def again(self, *starts: FloatArray | None) -> None:
        """Find a formula from those (n,) of programmes much like this one: as they are, else what limits let in."""
        given = [start for start in starts if start is not None]
        for start in given:
            self.offer(start > 0)
        if self.best is None:
            for start in given:
                self.fill(self.model.scaled.products.curvature * start**2)

    def afresh(self, root: Node) -> None:
        """Find formulas from the root as if none were in hand: a step away from the best there may be none better."""
        other = Formulas(self.programme, self.model, self.over, self.little)
        other.first(root, None)
        if other.best is not None and (self.best is None or other.best.value < self.best.value):
            self.best = other.best

    def _enough(self) -> bool:
        """Return whether there is a formula and no more time for another."""
        return self.best is not None and self.over()

    def _allowed(self, support: BoolArray) -> bool:
        state = np.where(support, ON, OFF).astype(np.int8)
        state[self.model.scaled.maximum <= 0] = OFF
        return propagate(self.model.scaled, state) is not None

    def round_off(self, node: Node) -> None:
        """Offer the columns of a node's relaxation that are nearer to their minimum than to nothing."""
        near = (node.amounts >= 0.5 * self.model.scaled.minimum) & (node.amounts > 1e-12)
        weight = self.model.scaled.products.curvature * node.amounts**2
        self.fill(np.where(self.model.scaled.held(node.state), np.inf, np.where(near, weight, 0.0)))

    def fill(self, wish: FloatArray) -> None:
        """Offer the columns with the greatest wish (n,), as many as limits and strengths let in."""
        support = self._let_in(wish)
        if support is not None:
            self.offer(support)

    def _let_in(self, wish: FloatArray) -> BoolArray | None:
        """Return the columns with the greatest wish (n,), as many as are let in; None if there is no time."""
        scaled = self.model.scaled
        state = np.where(wish > 0, FREE, OFF).astype(np.int8)
        state[scaled.maximum <= 0] = OFF
        state[scaled.helpers] = ON
        wished = np.flatnonzero(state == FREE)
        for i in wished[np.argsort(-wish[wished], kind="stable")]:
            if self._enough():
                return None
            if state[i] == FREE:
                tried = state.copy()
                tried[i] = ON
                further = propagate(scaled, tried)
                state = state if further is None else further
                state[i] = OFF if further is None else ON
        return np.asarray(state == ON)

    def switched_on(self, switches: FloatArray) -> None:
        """Offer the columns that the row hull switches on (n,)."""
        self.fill(_wished(switches))

    def improve_from(self, switches: FloatArray) -> None:
        """Offer the columns that the row hull switches on, and improve on them if they are better."""
        before = self.best
        self.switched_on(switches)
        if self.best is not before:
            self.improve()

    def elsewhere(self, amounts: FloatArray, switches: FloatArray) -> None:
        """Begin from what a row hull pours and switches on, both (n,), weighed in other ways; then go over worse ones.

        Where lines count and bottles resemble each other, a step away is not enough.
        """
        switches = _wished(switches)
        full = np.where(switches > 0, amounts / np.maximum(switches, 1e-300), 0.0)
        alone = self.model.scaled.products.curvature * full**2
        for wish in (alone * switches**2, alone, alone * np.sqrt(switches)):
            support = None if self.over() else self._let_in(wish)
            begun = None if support is None else self._tried(support, math.inf)
            if begun is not None:
                self._improved(begun)
        for _ in range(ROUNDS):
            current = self.best
            if current is None or not self._over_worse(current):
                return

    def _over_worse(self, current: Formula) -> bool:
        """Go from each column dropped for the best other one to better formulas; return whether one is the best."""
        gone = np.zeros(len(current.support), dtype=bool)
        for told, support in supports(estimated(self.model, current, self.programme.batch_g), current):
            dropped = current.support & ~support
            if self.over() or told > WORSE * current.value:
                return False
            if told < 0 or not (dropped & ~gone).any():
                continue
            begun = self._tried(support, math.inf)
            if begun is not None:
                gone |= dropped
                self._improved(begun)
            if self.best is not current:
                return True
        return False

    def dive(self, node: Node) -> None:
        """Decide the clearest columns of the relaxation, solve again, until a formula or a dead end."""
        for _ in range(DIVES):
            broken = keeps_switches(self.model.scaled, node.state, node.amounts)
            if not broken.any():
                self.offer((node.amounts > 1e-12) | self.model.scaled.held(node.state))
                return
            deeper = self._deeper(node, broken)
            if deeper is None or self.over():
                return
            node = deeper

    def _deeper(self, node: Node, broken: BoolArray) -> Node | None:
        """Return the node with the clearest broken columns decided, or decided otherwise where that fails."""
        scaled = self.model.scaled
        weight = scaled.products.curvature * node.amounts**2
        fullness = node.amounts / np.maximum(scaled.minimum, 1e-12)
        order = np.flatnonzero(broken)[np.argsort(weight[broken], kind="stable")]
        bulk = order[: max(1, len(order) // 3)]
        attempts: list[tuple[list[int], np.int8]] = [([int(i) for i in bulk], OFF), ([int(order[0])], OFF)]
        fullest = int(order[np.argmax(fullness[order])])
        if fullness[fullest] > 0.5 and fullness[fullest] < 1:
            attempts.insert(0, ([fullest], ON))
        attempts.append(([int(order[0])], ON))
        for columns, choice in attempts:
            state = node.state.copy()
            state[columns] = choice
            further = propagate(scaled, state)
            solved = None if further is None else solve_node(self.model, further, node.working, 1e-6, self.over)
            if solved is not None and solved.settled:
                return solved
            if self.over():
                return None
        return None

    def improve(self, proven: float = -math.inf, rounds: int = ROUNDS) -> None:
        """Go from the best formula to better ones; where that is `proven` already, none is tried."""
        if self.best is not None:
            self._improved(self.best, proven, rounds)
            self._bare(self.best)

    def _bare(self, exact: Formula) -> None:
        """Of a formula that is exact leave out columns, those first of which least is poured, while it stays so."""
        if exact.value > NEARLY_ZERO:
            return
        for i in np.argsort(self.programme.basis * exact.amounts, kind="stable"):
            support = exact.support.copy()
            support[i] = False
            if exact.support[i] and not self.over() and self._allowed(support | self.model.scaled.helpers):
                fewer = on_columns(self.programme, self.model, support, NEARLY_ZERO, self.over)
                exact = exact if fewer is None else fewer
        self.best = exact

    def _improved(self, current: Formula, proven: float = -math.inf, rounds: int = ROUNDS) -> None:
        """Go from a formula to better ones a step away, until none is better by more than `little`."""
        for _ in range(rounds):
            if self.over() or proven >= current.value * (1 - self.little):
                return
            further = self._step(current)
            if further is None or further.value >= current.value * (1 - self.little):
                return
            current = further

    def _step(self, current: Formula) -> Formula | None:
        """Return the best formula found a step away, None if none is better; what is told first is trusted most."""
        best, tried = None, 0
        for told, support in supports(estimated(self.model, current, self.programme.batch_g), current):
            enough = HOPE * current.value if best is None else TRUSTED * (best.value - current.value)
            if tried >= TRIED_A_ROUND or told > enough or self.over():
                break
            before = len(self._seen)
            formula = self._tried(support, current.value if best is None else best.value)
            tried += len(self._seen) - before  # what no limit lets in, or was tried before, costs nothing
            best = best if formula is None else formula
        return best


def _wished(switches: FloatArray) -> FloatArray:
    return np.where(switches > 1e-3, switches, 0.0)
