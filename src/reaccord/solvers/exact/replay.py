"""An older search's tree over a changed programme: what its multipliers still prove, and what they leave open."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from reaccord.solvers.exact.bound import Duals, bound_of, decided
from reaccord.solvers.exact.node_qp import Node
from reaccord.solvers.exact.propagate import propagate
from reaccord.solvers.exact.scaled import Scaled
from reaccord.solvers.exact.trace import Note, Trace


@dataclass(frozen=True)
class Shift:
    """How the duals of the root have moved: those below are taken to move alike."""

    before: Duals
    after: Duals

    def of(self, note: Note) -> Note:
        """Return a note with its duals moved."""
        before, after, own = self.before, self.after, note.duals
        limits = np.maximum(own.limits + after.limits - before.limits, 0.0)
        levels = np.maximum(own.levels + after.levels - before.levels, 0.0)
        return replace(note, duals=Duals(own.mu + after.mu - before.mu, limits, levels))


class Replay:
    """The tree gone through from the root: nodes that reach `cut` are closed, the last of the others are open.

    `closed` is the least bound of what was cut off; `open` are nodes that are to be solved again (stale).
    """

    def __init__(self, scaled: Scaled, cut: float, shift: Shift | None, over: Callable[[], bool]) -> None:
        self.scaled, self.cut, self._shift, self._over = scaled, cut, shift, over
        self.closed = math.inf
        self.open: list[Node] = []

    def run(self, above: Node) -> Replay:
        """Go through the tree of a node: its own relaxation, then its children's."""
        waiting = [above]
        while waiting:
            node = self._node(waiting.pop())
            if node is None:
                continue
            assert node.trace is not None
            children = list(self._children(node, node.trace))
            waiting += children
            if not node.trace.children:
                self.open.append(node)
        return self

    def _children(self, node: Node, trace: Trace) -> Iterator[Node]:
        for child in trace.children:
            state = child.within(node.state, self.scaled)
            if state is not None:
                yield replace(node, state=state, inherited=node.proven, trace=child)

    def _node(self, node: Node) -> Node | None:
        """Return a node with what its notes prove and decide, None if it is closed."""
        assert node.trace is not None
        if self._over():
            return node
        own = Note(node.amounts, node.duals, node.working, node.switches, node.alone)
        for note in node.trace.notes or [own]:
            further = propagate(self.scaled, node.state)
            if further is None:
                return None
            node = self._better(replace(node, state=further), note)
            if node.proven >= self.cut:
                self.closed = min(self.closed, node.proven)
                return None
            state, least = decided(self.scaled, node.state, node.bound, self.cut)
            self.closed = min(self.closed, least)
            node = replace(node, state=state, inherited=node.proven)
        further = propagate(self.scaled, node.state)
        return None if further is None else replace(node, state=further)

    def _better(self, node: Node, note: Note) -> Node:
        """Return the node by a note, as it is or moved, whichever proves more."""
        bound = bound_of(self.scaled, node.state, note.point, note.duals)
        if self._shift is not None:
            moved = self._shift.of(note)
            other = bound_of(self.scaled, node.state, note.point, moved.duals)
            if other.value > bound.value:
                note, bound = moved, other
        return replace(
            node,
            amounts=note.point,
            bound=bound,
            duals=note.duals,
            working=note.working,
            switches=note.switches,
            alone=note.alone,
            stale=True,
        )
