"""Makes the tree of a certificate: the least known bound is raised until the target is proven.

Relaxations only propose duals; what they prove is computed in fractions by `leaf`, and columns are fixed and
nodes closed on that alone.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from reaccord.certificate.branch import best_branching
from reaccord.certificate.cardinality import suited
from reaccord.certificate.duals import Found, Provider
from reaccord.certificate.format import Duals, Node, Problem
from reaccord.certificate.leaf import FREE, OFF, ON, UNIT, Leaf, State
from reaccord.certificate.maxima import largest_of
from reaccord.certificate.verify import decide

ROUNDS = 4


@dataclass(frozen=True)
class Proof:
    """A tree and the duals of its leaves."""

    duals: tuple[Duals, ...]
    tree: tuple[Node, ...]


@dataclass
class _Open:
    """A node to be worked on: where it stands in the tree, what is decided, the best bound and its duals."""

    place: int
    state: list[int]
    bound: int | float
    by: int
    near: Found | None


class Prover:
    """Proves that no formula deviates by less than `target`; `value` is that of a formula in hand."""

    def __init__(
        self,
        problem: Problem,
        value: Fraction,
        target: Fraction,
        over: Callable[[], bool],
    ) -> None:
        self.problem, self.over = problem, over
        self.target = math.ceil(target * UNIT)
        self.largest = largest_of(problem, value)
        accuracy = max(0.02 * float(value - target), 1e-14)
        self.provider = Provider(problem, self.largest, accuracy)
        self._tree: list[Node] = []
        self._duals: list[Duals] = []
        self._leaves: list[Leaf] = []
        self._open: list[tuple[int | float, int, _Open]] = []

    def run(self) -> Proof:
        """Return the proof: of the target, or of what was reached when `over` said so."""
        self._push(_Open(self._place(), [FREE] * len(self.problem.columns), -math.inf, -1, None))
        while self._open:
            node = heapq.heappop(self._open)[2]
            if node.by >= 0 and self.over():
                self._close(node)
                continue
            if not self._worked(node):
                self._split(node)
        return self._proof()

    def _proof(self) -> Proof:
        """Return the tree with the duals that it uses."""
        uses = [next((key for key in ("leaf", "by") if key in node), "") for node in self._tree]
        needed = sorted({node[key] for node, key in zip(self._tree, uses, strict=True) if key})
        number = {old: new for new, old in enumerate(needed)}
        tree = [{**n, key: number[n[key]]} if key else n for n, key in zip(self._tree, uses, strict=True)]
        return Proof(tuple(self._duals[old] for old in needed), tuple(tree))

    def _place(self) -> int:
        self._tree.append({})
        return len(self._tree) - 1

    def _push(self, node: _Open) -> None:
        heapq.heappush(self._open, (node.bound, node.place, node))

    def _close(self, node: _Open) -> None:
        self._tree[node.place] = {"leaf": node.by}

    def _worked(self, node: _Open) -> bool:
        """Relax a node, fix what its duals decide; return whether that closes it."""
        for _ in range(ROUNDS):
            self._relax(node)
            moved = node.bound < self.target and self._fixed(node)
            if node.bound >= self.target:
                self._close(node)
                return True
            if not moved:
                return False
        return False

    def _relax(self, node: _Open) -> None:
        """Find better duals for a node."""
        state = self.provider.state(node.state)
        plain = self.provider.squares(state, node.near)
        if plain is None or plain.bound * UNIT < node.bound:  # nothing is left, or nothing was found
            for duals in self.provider.contradictions(state):
                self._try(node, duals)
                if node.bound >= self.target:
                    return
        if plain is None:
            return
        best = plain
        if plain.bound * UNIT < self.target:
            rows = self.provider.rows(state, plain)
            if rows is not None:
                best = max(plain, rows, key=lambda found: found.bound)
        node.near = best
        duals = self.provider.fractions(best.duals)
        for tried in suited(self.problem, self.largest, node.state, duals):
            self._try(node, tried)

    def _fixed(self, node: _Open) -> bool:
        """Fix the columns whose other choice a node's duals close; return whether that calls for another relaxation."""
        leaf, fixed = self._leaves[node.by], list[list[int | str]]()
        state: State = node.state
        moved = False
        for column in range(len(state)):
            for choice, other, name in ((OFF, ON, "off"), (ON, OFF, "on")):
                aside = decide(state, [column], other) if state[column] == FREE else None
                if aside is not None and leaf.bound(self.problem, aside) >= self.target:
                    state = decide(state, [column], choice) or state
                    fixed.append([column, name])
                    moved = moved or self._moves(node.near, column, choice)
        if fixed:
            further = self._place()
            self._tree[node.place] = {"fixed": fixed, "by": node.by, "then": further}
            node.place, node.state = further, list(state)
            node.bound = max(node.bound, leaf.bound(self.problem, state))
        return moved or (bool(fixed) and FREE not in self.provider.state(state))

    def _moves(self, near: Found | None, column: int, choice: int) -> bool:
        """Return whether a choice excludes the relaxation's own amount."""
        if near is None:
            return True
        amount, least = float(near.amounts[column]), float(self.provider.scaled.minimum[column])
        return amount > 1e-12 if choice == OFF else amount < least * (1 - 1e-9)

    def _split(self, node: _Open) -> None:
        """Replace a node by its children, or close it below the target if nothing is left to decide."""
        found = None
        if node.near is not None:
            found = best_branching(self.provider, node.state, node.near, self.target / UNIT)
        if found is None:
            self._close(node)
            return
        leaf = self._leaves[node.by]
        numbers: list[int | None] = []
        for state, near in zip(found.states, found.near, strict=True):
            numbers.append(None if state is None else self._place())
            if state is not None:
                bound = leaf.bound(self.problem, state)
                self._push(_Open(len(self._tree) - 1, list(state), bound, node.by, near or node.near))
        branching: dict[str, Any] = {"column": found.column, "off": numbers[0], "on": numbers[-1]}
        if found.material is not None:
            branching = {"material": found.material, "none": numbers[0], "only": numbers[1:]}
        self._tree[node.place] = branching

    def _try(self, node: _Open, duals: Duals) -> None:
        """Take duals for a node if they prove more than those it has."""
        leaf = Leaf(self.problem, self.largest, duals)
        bound = leaf.bound(self.problem, node.state)
        if bound > node.bound or node.by < 0:
            self._duals.append(duals)
            self._leaves.append(leaf)
            node.bound, node.by = bound, len(self._leaves) - 1
