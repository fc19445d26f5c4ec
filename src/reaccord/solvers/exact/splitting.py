"""A node's children: on the column, or the lots of a material, that promise most."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np

from reaccord.solvers.exact.branching import PATIENCE, TRIED, PseudoCosts, choices, score
from reaccord.solvers.exact.formula import BoolArray
from reaccord.solvers.exact.lots import Lots
from reaccord.solvers.exact.node_qp import Node
from reaccord.solvers.exact.scaled import OFF, IntArray, Scaled, State
from reaccord.solvers.exact.trace import Trace

NOTHING = np.zeros(0, dtype=np.int_)


@dataclass
class Split:
    """The children of a node, None where nothing of interest is left, and their traces."""

    children: list[Node | None] = field(default_factory=list)
    traces: list[Trace] = field(default_factory=list)


class Splitter(NamedTuple):
    """What splitting takes; `solved` returns the child of a node that a state is, None if nothing of it is left."""

    scaled: Scaled
    costs: PseudoCosts
    lots: Lots
    solved: Callable[[State, Node], Node | None]
    over: Callable[[], bool]

    def split(self, node: Node, broken: BoolArray, cut: float) -> Split | None:
        """Return the children that promise most, None if time ran out before; `cut` is what one that closes counts for.

        `broken` (n,) are the columns to decide.
        """
        together = self.lots.undecided(node.within or self.scaled, node)
        seen = _pooled(node, together)
        best: Split | None = None
        best_score, waited = -1.0, 0
        for tried, column in enumerate(self._candidates(seen, broken, together)):
            if best is not None and (tried >= TRIED or waited >= PATIENCE or self.costs.known(column)):
                break
            split = self._on(node, seen, column, together.get(column, NOTHING), best_score, cut)
            if split is None:
                return best
            pair = split.children
            if len(pair) == 1:  # it cannot be the best any more
                waited += 1
                continue
            if pair[0] is None or not any(pair[1:]):
                return split
            rises = [child.bound.value - node.bound.value for child in pair if child is not None]
            reached = float(score(np.array(rises[0]), np.array(min(rises[1:]))))
            waited = 0 if reached > best_score else waited + 1
            if reached > best_score:
                best, best_score = split, reached
        return best

    def _candidates(self, seen: Node, broken: BoolArray, together: dict[int, IntArray]) -> list[int]:
        """Return columns to split on, the most promising first: whether a material is used, then which of its lots."""
        broken = broken.copy()
        for first, lots in together.items():
            broken[lots] = False
            broken[first] = True
        later = broken & (self.lots.material >= 0)
        later[list(together)] = False
        return [int(i) for part in (broken & ~later, later) for i in self.costs.candidates(seen, part)]

    def _on(self, node: Node, seen: Node, column: int, lots: IntArray, beaten: float, cut: float) -> Split | None:
        """Return the children of a node on a column or on lots, without their use first; None if time ran out.

        Only the first, if whatever the others do the split would score no more than `beaten`.
        """
        split = Split()
        for state, demanded in self._choices(node, column, lots):
            if self.over():
                return None
            trace = Trace.between(node.state, state, demanded)
            within = (node.within or self.scaled).demanding(demanded) if len(demanded) else node.within
            split.traces.append(trace)
            split.children.append(self.solved(state, replace(node, trace=trace, within=within)))
            first = split.children[0]
            rise = cut if first is None else first.bound.value - node.bound.value
            if first is not None and float(score(np.array(rise), np.array(cut - node.bound.value))) <= beaten:
                self.costs.learn(seen, column, 0, first.bound.value)
                return split
        bounds = [cut if child is None else child.bound.value for child in split.children]
        self.costs.learn(seen, column, 0, bounds[0])
        self.costs.learn(seen, column, 1, min(bounds[1:]))
        return split

    def _choices(self, node: Node, column: int, lots: IntArray) -> list[tuple[State, IntArray]]:
        """Return states that together cover the node's, and the columns of which each demands one."""
        if not len(lots):
            return [(state, NOTHING) for state in choices(self.scaled, node.state, column)]
        without = node.state.copy()
        without[lots] = OFF
        return [(without, NOTHING), (node.state.copy(), lots)]


def _pooled(node: Node, together: dict[int, IntArray]) -> Node:
    """Return a node in which the first of several lots has the switches and the amounts of all."""
    if node.switches is None or not together:
        return node
    switches, amounts = node.switches.copy(), node.amounts.copy()
    for first, lots in together.items():
        switches[first], amounts[first] = node.switches[lots].sum(), node.amounts[lots].sum()
    return replace(node, switches=switches, amounts=amounts)
