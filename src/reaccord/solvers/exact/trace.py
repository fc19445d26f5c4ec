"""A search's tree as it goes: how each node differs from the one above, and what was solved there."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray
from reaccord.solvers.exact.bound import Duals
from reaccord.solvers.exact.scaled import OFF, ON, IntArray, Scaled, State

BoolArray = NDArray[np.bool_]
MOST_NOTES = 6


class Note(NamedTuple):
    """A relaxation solved: its point, duals and working columns, and of a row hull its switches and lone parts."""

    point: FloatArray
    duals: Duals
    working: BoolArray
    switches: FloatArray | None
    alone: BoolArray | None


@dataclass
class Trace:
    """A node of the tree: `choices` of `columns` beyond the node above, and every relaxation solved there.

    Of the columns `demanded`, if any, at least one is used.
    """

    columns: IntArray
    choices: State
    demanded: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int_))
    notes: list[Note] = field(default_factory=list)
    children: list[Trace] = field(default_factory=list)

    @staticmethod
    def between(above: State, state: State, demanded: IntArray) -> Trace:
        """Return the trace of a node in terms of the one above."""
        columns = np.flatnonzero(above != state)
        return Trace(columns, state[columns], demanded)

    @staticmethod
    def root() -> Trace:
        """Return the trace of a root."""
        return Trace(np.zeros(0, dtype=np.int_), np.zeros(0, dtype=np.int8))

    def note(self, note: Note) -> None:
        """Keep a relaxation, the last few of them."""
        self.notes = [*self.notes, note][-MOST_NOTES:]

    def within(self, state: State, scaled: Scaled) -> State | None:
        """Return the node's state within `state`, None if nothing of it is left."""
        there = state[self.columns]
        refused = ((self.choices == ON) & (there == OFF)) | (
            (self.choices == OFF) & (there == ON) & scaled.switched[self.columns]
        )
        if refused.any():
            return None
        further = state.copy()
        further[self.columns] = self.choices
        return further
