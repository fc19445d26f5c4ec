"""An older search's tree over a changed programme: what its multipliers still prove, and what they leave open."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from reaccord.solvers.exact.bound import Bound, Duals, bounds_of
from reaccord.solvers.exact.narrowing import learn
from reaccord.solvers.exact.node_qp import Node
from reaccord.solvers.exact.propagate import propagate
from reaccord.solvers.exact.scaled import Scaled
from reaccord.solvers.exact.trace import Note

AT_ONCE = 200_000
"""Entries looked at side by side."""


class Shift(NamedTuple):
    """How the duals of the root have moved: those below are taken to move alike."""

    before: Duals
    after: Duals

    def of(self, note: Note) -> Note:
        """Return a note with its duals moved."""
        before, after, own = self.before, self.after, note.duals
        limits = np.maximum(own.limits + after.limits - before.limits, 0.0)
        levels = np.maximum(own.levels + after.levels - before.levels, 0.0)
        return note._replace(duals=Duals(own.mu + after.mu - before.mu, limits, levels))


class Replay:
    """The tree gone through from the root: nodes that reach `cut` are closed, the last of the others are open.

    `closed` is the least bound of what was cut off; `open` are nodes that are to be solved again (stale).
    """

    def __init__(self, scaled: Scaled, cut: float, shift: Shift | None, over: Callable[[], bool]) -> None:
        self.scaled, self.cut, self._shift, self._over = scaled, cut, shift, over
        self.closed = math.inf
        self.open: list[Node] = []
        self._together = max(1, AT_ONCE // max(len(scaled.entries[0]), 1))

    def run(self, above: Node) -> Replay:
        """Go through the tree of a node, from above: its own relaxation, then its children's, and so on."""
        level = [above]
        while level:
            level = [child for node in self._noted(level) for child in self._below(node)]
        return self

    def _below(self, node: Node) -> Iterator[Node]:
        """Yield the children of a node; where it has none it is open."""
        assert node.trace is not None
        if not node.trace.children:
            self.open.append(node)
        for child in node.trace.children:
            state = child.within(node.state, self.scaled)
            within = node.within
            if len(child.demanded):
                within = (within or self.scaled).demanding(child.demanded)
            state = None if state is None else propagate(within or self.scaled, state)
            if state is not None:
                yield replace(node, state=state, inherited=node.proven, trace=child, within=within)

    def _noted(self, nodes: list[Node]) -> list[Node]:
        """Return the nodes that their notes do not close, with what these prove and decide."""
        done: list[Node] = []
        waiting = [(node, list(node.trace.notes if node.trace and node.trace.notes else [node.note])) for node in nodes]
        while waiting:
            if self._over():
                return done + [node for node, _ in waiting]
            here, waiting = waiting[: self._together], waiting[self._together :]
            by_first = self._by([(node, notes[0]) for node, notes in here])
            for node, (_, notes) in zip(by_first, here, strict=True):
                further = self._decided(node)
                if further is not None and len(notes) > 1:
                    waiting.append((further, notes[1:]))
                elif further is not None:
                    done.append(further)
        return done

    def _decided(self, node: Node) -> Node | None:
        """Return a node with what its bound decides, None if it is closed."""
        if node.proven >= self.cut:
            self.closed = min(self.closed, node.proven)
            return None
        learned = learn(self.scaled, node, self.cut)
        self.closed = min(self.closed, learned.least)
        if learned.state is None:
            return None
        return replace(node, state=learned.state, within=learned.within, inherited=node.proven)

    def _by(self, pairs: list[tuple[Node, Note]]) -> list[Node]:
        """Return nodes by a note each, as it is or moved, whichever proves more."""
        tried = [[note] if self._shift is None else [note, self._shift.of(note)] for _, note in pairs]
        asked = [
            (node.within or self.scaled, node.state, note.point, note.duals)
            for (node, _), own in zip(pairs, tried, strict=True)
            for note in own
        ]
        bounds = iter(bounds_of(asked))
        found = []
        for (node, _), own in zip(pairs, tried, strict=True):
            best, note = max(((next(bounds), note) for note in own), key=lambda pair: pair[0].value)
            found.append(_by_note(node, note, best))
        return found


def _by_note(node: Node, note: Note, bound: Bound) -> Node:
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
