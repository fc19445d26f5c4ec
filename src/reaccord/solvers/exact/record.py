"""What a search leaves behind, for the search of a programme much like it.

A tree of relaxations: how each node differs from the one above, and the multipliers found there. Whatever changes in
the programme, the closed form of `bound` says what they prove about the changed one, so nothing of the old bound is
trusted and most of it is kept. Columns, rows and limits go by their labels. A column that is new is free in every
node, one that is gone is in none; so the children of a node still cover it, as long as strengths that excluded each
other do so still (`covers`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray, Programme
from reaccord.solvers.exact.bound import Duals
from reaccord.solvers.exact.scaled import ON, IntArray, Scaled, limit_sizes
from reaccord.solvers.exact.trace import Note, Trace

BoolArray = NDArray[np.bool_]
Labels = tuple[Hashable, ...]
Kind = TypeVar("Kind", bound=np.generic)
MOST_TRACES = 600


@dataclass(frozen=True)
class Record:
    """A search's tree, root first, each with the number of the trace above it; and the pseudocosts.

    `rises`, `seen` (2, n) are those of `PseudoCosts`; `by_rows` says by which relaxation nodes were solved, `suited`
    whether the root was to be by rows; `left` is what was missing at the root to prove the formula, absolute.
    """

    frame: Frame
    traces: tuple[tuple[int, Trace], ...]
    rises: FloatArray
    seen: IntArray
    by_rows: bool
    suited: bool
    left: float
    amounts: FloatArray | None

    def over(self, frame: Frame, scaled: Scaled) -> Record:
        """Return the record over another programme's columns, rows and limits."""
        if frame == self.frame:
            return self
        moved = _Moved(self.frame, frame, scaled)
        whole = moved.covers()
        kept = self.traces if whole else self.traces[:1]
        place, traces = {-1: -1}, list[tuple[int, Trace]]()
        for number, (above, trace) in enumerate(kept):
            if above not in place:
                continue
            there = moved.trace(trace)
            if there is not None:
                place[number] = len(traces)
                traces.append((place[above], there))
        return Record(
            frame,
            tuple(traces),
            moved.columns(self.rises, 0.0),
            moved.columns(self.seen, 0),
            self.by_rows,
            self.suited,
            self.left,
            None if self.amounts is None else moved.columns(self.amounts, 0.0),
        )

    def tree(self) -> Trace | None:
        """Return the root with all below it; None if there is none."""
        copies = [replace(trace, notes=list(trace.notes), children=[]) for _, trace in self.traces]
        for (above, _), copy in zip(self.traces, copies, strict=True):
            if above >= 0:
                copies[above].children.append(copy)
        return copies[0] if copies else None


def flat(root: Trace) -> tuple[tuple[int, Trace], ...]:
    """Return the traces from the root down, each with the number of the one above, at most `MOST_TRACES` or so."""
    found = [(-1, root)]
    for number, (_, trace) in enumerate(found):
        if len(found) > MOST_TRACES:
            break
        found += [(number, child) for child in trace.children]
    return tuple((above, replace(trace, children=[])) for above, trace in found)


class Frame(NamedTuple):
    """What the arrays of a record are over: columns, rows with content, limits; and their scales."""

    columns: Labels
    rows: Labels
    limits: Labels
    factor: tuple[float, ...]
    sizes: tuple[float, ...]
    groups: tuple[tuple[tuple[int, ...], ...], ...]
    entries: bytes

    @staticmethod
    def of(programme: Programme, scaled: Scaled) -> Frame:
        """Return the frame of a programme."""
        filled: BoolArray = np.asarray((programme.factor[:, None] * programme.content).any(axis=1))
        return Frame(
            _labels(programme.columns),
            _labels(row for row, there in zip(programme.rows, filled, strict=True) if there),
            _labels(row.key for row in programme.limits),
            tuple(programme.factor[filled].tolist()),
            tuple((limit_sizes(programme) / programme.batch_g).tolist()),
            programme.strengths,
            np.packbits(scaled.content != 0).tobytes(),
        )


def _labels(names: Iterable[Hashable]) -> Labels:
    """Return labels of which none is there twice: the second of a name is known by its turn."""
    names = tuple(names)
    if len(set(names)) == len(names):
        return tuple((name, 0) for name in names)
    turn: Counter[Hashable] = Counter()
    found = []
    for name in names:
        found.append((name, turn[name]))
        turn[name] += 1
    return tuple(found)


def _places(before: Labels, now: Labels) -> IntArray:
    """Return where each label stood before, -1 where it did not."""
    place = {label: i for i, label in enumerate(before)}
    return np.array([place.get(label, -1) for label in now], dtype=np.int_)


class _Moved:
    """Arrays over one frame, brought to another."""

    def __init__(self, before: Frame, now: Frame, scaled: Scaled) -> None:
        self.before, self.now, self.scaled = before, now, scaled
        self._column = _places(before.columns, now.columns)
        self._row = _places(before.rows, now.rows)
        self._limit = _places(before.limits, now.limits)
        self._there = _places(now.columns, before.columns)
        self._scale = _taken(np.array(before.factor), self._row, np.nan)
        self._scale = np.array(now.factor) / self._scale
        self._priced = np.array(now.sizes) / _taken(np.array(before.sizes), self._limit, np.nan)

    def columns(self, values: NDArray[Kind], none: float) -> NDArray[Kind]:
        """Return numbers of columns (..., n)."""
        return _taken(values, self._column, none)

    def covers(self) -> bool:
        """Whether every formula keeps to the strengths that the tree was split on."""
        owner = {
            i: (g, s) for g, strengths in enumerate(self.now.groups) for s, own in enumerate(strengths) for i in own
        }
        for strengths in self.before.groups:
            places = [[int(self._there[i]) for i in own if self._there[i] >= 0] for own in strengths]
            left = [[owner.get(i) for i in own] for own in places if own]
            if len(left) < 2:
                continue
            groups = {pair[0] if pair is not None else None for own in left for pair in own}
            apart = [{pair[1] for pair in own if pair is not None} for own in left]
            if len(groups) > 1 or None in groups or sum(map(len, apart)) != len(set().union(*apart)):
                return False
        return True

    def trace(self, trace: Trace) -> Trace | None:
        """Return a trace; None if it pours a column that is gone, or demands one of several that all are."""
        there = self._there[trace.columns]
        if (trace.choices[there < 0] == ON).any():
            return None
        kept = there >= 0
        demanded = self._there[trace.demanded]
        if len(demanded) and (demanded < 0).all():
            return None
        notes = [self._note(note) for note in trace.notes]
        return Trace(there[kept], trace.choices[kept], demanded[demanded >= 0], notes)

    def _note(self, note: Note) -> Note:
        point = self.columns(note.point, 0.0)
        levels = _taken(note.duals.levels, self._row, np.nan) * self._scale
        levels = np.where(np.isfinite(levels), levels, self.scaled.products.achieved(point))
        limits = _taken(note.duals.limits, self._limit, 0.0) * np.where(self._limit >= 0, self._priced, 0.0)
        return Note(
            point,
            Duals(note.duals.mu, limits, levels),
            self.columns(note.working, False),
            None if note.switches is None else self.columns(note.switches, 0.0),
            None if note.alone is None else self._entries(note.alone),
        )

    @cached_property
    def _entry(self) -> IntArray:
        """Return where each entry of the contents stood before, -1 where there was none."""
        shape = len(self.before.rows), len(self.before.columns)
        bits = np.unpackbits(np.frombuffer(self.before.entries, dtype=np.uint8), count=shape[0] * shape[1])
        number = np.where(bits, np.cumsum(bits, dtype=np.int_) - 1, -1).reshape(shape)
        row, column, _ = self.scaled.entries
        at = np.where((self._row[row] >= 0) & (self._column[column] >= 0), 0, -1)
        known = at == 0
        at[known] = number[self._row[row[known]], self._column[column[known]]]
        return at

    def _entries(self, alone: BoolArray) -> BoolArray:
        return _taken(alone, self._entry, False)


def _taken(values: NDArray[Kind], places: IntArray, none: float) -> NDArray[Kind]:
    """Return `values` (..., before) at `places` (now,), `none` where there is none."""
    found = values[..., places] if values.shape[-1] else np.full((*values.shape[:-1], len(places)), none)
    return np.where(places >= 0, found, none).astype(values.dtype)
