"""A programme near a formula in use: so much of its mass moved, so many of its lines changed.

Every line in use is two columns: what is kept of it, up to the amount in use, and what comes on top, which needs the
line kept. With `w` the gram of neat material per gram poured and `M` those of the whole formula in use:

    sum w (in use - kept) + sum w on top + sum w of other lines <= 2 moved M
    [kept < in use] + [on top > 0] of every line in use, + [x > 0] of every other line, <= changes

What is kept less has a mark of its own, a column of a batch or nothing that holds nothing: `kept / in use + mark >= 1`.
A formula can be said in columns that count more than it moves, never less; so the least is what it moves.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from reaccord.contract import FloatArray, LimitRow, Programme
from reaccord.domain.limit_key import LimitKey

FAR = 1000.0
"""Batches that nobody pours of one bottle."""
SNAP = 1e-9
"""Relative; an amount so near the one in use is that."""


@dataclass(frozen=True)
class InUse:
    """A formula in use: gram (n,) by column, neat gram per gram (n,), and what of it cannot be poured any more."""

    amounts: FloatArray
    neat: FloatArray
    gone_g: float = 0.0
    gone_lines: int = 0

    @property
    def neat_g(self) -> float:
        """Gram of neat material in all of it."""
        return float(self.neat @ self.amounts) + self.gone_g


class Near:
    """States the programme near a formula, and reads its amounts.

    `moved` is a share of the neat mass in use (half the sum of what is taken out and what is put in), `changes` a
    number of lines; None: as many as you like.
    """

    def __init__(self, programme: Programme, used: InUse, moved: float | None, changes: int | None) -> None:
        self.base, self.used, self.moved, self.changes = programme, used, moved, changes
        n = len(programme.columns)
        self.lines = np.flatnonzero(used.amounts > 0)
        most = np.minimum(programme.maximum, _reach(programme))
        self.topped = np.array([i for i in self.lines if most[i] > used.amounts[i] * (1 + SNAP)], dtype=np.intp)
        self.room = most[self.topped] - used.amounts[self.topped]
        self.marked = self.lines if changes is not None else self.lines[:0]
        self.on_top = {int(i): n + place for place, i in enumerate(self.topped)}
        self.marks = {int(i): n + len(self.topped) + place for place, i in enumerate(self.marked)}
        self.programme = self._stated(most)

    def _stated(self, most: FloatArray) -> Programme:
        base, in_use = self.base, self.used.amounts
        marks = len(self.marked)
        minimum, maximum = base.minimum.copy(), base.maximum.copy()
        minimum[self.lines] = np.minimum(base.minimum, in_use)[self.lines]
        maximum[self.lines] = np.minimum(in_use, most)[self.lines]
        lacking = np.maximum(base.minimum - in_use, 0.0)[self.topped]
        batch = np.full(marks, base.batch_g)
        limits = [
            replace(row, amounts=self._spread(row.amounts), used=np.append(row.used, np.zeros(self._more)))
            for row in base.limits
        ]
        return replace(
            base,
            columns=(
                *base.columns,
                *(f"more: {base.columns[i]}" for i in self.topped),
                *(f"less: {base.columns[i]}" for i in self.marked),
            ),
            content=np.hstack([base.content, base.content[:, self.topped], np.zeros((len(base.rows), marks))]),
            basis=self._spread(base.basis),
            minimum=np.concatenate([minimum, lacking, batch]),
            maximum=np.concatenate([maximum, self.room, batch]),
            step=np.zeros(len(base.columns) + self._more),
            limits=(*limits, *self._ties(lacking), *self._caps()),
            strengths=tuple(tuple(self._both(columns) for columns in material) for material in base.strengths),
        )

    @property
    def _more(self) -> int:
        return len(self.topped) + len(self.marked)

    def _spread(self, per_gram: FloatArray) -> FloatArray:
        """Return what a gram of each column counts for: what comes on top as its line, a mark for nothing."""
        return np.concatenate([per_gram, per_gram[self.topped], np.zeros(len(self.marked))])

    def _both(self, columns: tuple[int, ...]) -> tuple[int, ...]:
        return (*columns, *(self.on_top[i] for i in columns if i in self.on_top))

    def _ties(self, lacking: FloatArray) -> list[LimitRow]:
        """Return what ties columns: on top only where it is kept; where too little is in use, enough on top."""
        rows, in_use = [], self.used.amounts
        for i, room, least in zip(self.topped, self.room, lacking, strict=True):
            rows.append(self._row({self.on_top[int(i)]: 1 / room, int(i): -1 / in_use[i]}, 0.0))
            if least > 0:
                rows.append(self._row({int(i): 1 / in_use[i], self.on_top[int(i)]: -1 / least}, 0.0))
        for i in self.marked:
            rows.append(self._row({int(i): -1 / in_use[i], self.marks[int(i)]: -1 / self.base.batch_g}, -1.0))
        return rows

    def _caps(self) -> list[LimitRow]:
        rows = []
        if self.moved is not None:
            moved, fixed = self.moved_by()
            rows.append(self._row(dict(enumerate(moved)), 2 * self.moved * self.used.neat_g - fixed))
        if self.changes is not None:
            used = np.zeros(len(self.base.columns) + self._more)
            used[[*self._others(), *self.on_top.values(), *self.marks.values()]] = 1.0
            label = f"at most {self.changes} lines changed"
            key = LimitKey("lines", ("changed",))
            rows.append(LimitRow(key, label, label, np.zeros(len(used)), used, self.changes - self.used.gone_lines))
        return rows

    def _others(self) -> list[int]:
        """Return the columns of stocks that are not in use."""
        helpers = self.base.helpers
        return [i for i in range(len(self.base.columns)) if self.used.amounts[i] <= 0 and not helpers[i]]

    def moved_by(self) -> tuple[FloatArray, float]:
        """Return the neat gram that a gram of each column moves, and what is moved where nothing is poured."""
        moved, fixed = self._spread(self.used.neat), self.used.neat_g
        moved[self.lines] *= -1.0
        return moved, fixed

    def _row(self, amounts: dict[int, float], most: float) -> LimitRow:
        row = np.zeros(len(self.base.columns) + self._more)
        row[list(amounts)] = list(amounts.values())
        return LimitRow(LimitKey("lines", ("near",)), "near", "near the formula in use", row, np.zeros(len(row)), most)

    def amounts(self, found: FloatArray) -> FloatArray:
        """Return amounts (n,) for the columns of `programme`; what is kept is exactly what is in use."""
        amounts = found[: len(self.base.columns)].copy()
        for i, column in self.on_top.items():
            amounts[i] += found[column]
        in_use = self.used.amounts
        same = (in_use > 0) & (np.abs(amounts - in_use) <= SNAP * in_use)
        return np.where(same, in_use, amounts)

    def columns(self, amounts: FloatArray) -> FloatArray:
        """Return the columns of `programme` that say amounts (n,)."""
        in_use = self.used.amounts
        whole = np.concatenate([amounts, np.zeros(self._more)])
        whole[self.lines] = np.minimum(amounts, in_use)[self.lines]
        for i, column in self.on_top.items():
            whole[column] = max(amounts[i] - in_use[i], 0.0)
        for i, column in self.marks.items():
            whole[column] = self.base.batch_g if amounts[i] < in_use[i] else 0.0
        return whole

    def only_moving(self, lines: Collection[int]) -> Programme | None:
        """Return the programme in which no other lines than these (columns n) move; None where one cannot stay."""
        in_use, free = self.used.amounts, set(lines)
        still = [int(i) for i in self.lines if int(i) not in free]
        if any(
            self.base.minimum[i] > in_use[i] * (1 + SNAP) or self.programme.maximum[i] < in_use[i] * (1 - SNAP)
            for i in still
        ):
            return None
        dropped = [i for i in self._others() if i not in free]
        dropped += [columns[i] for columns in (self.on_top, self.marks) for i in still if i in columns]
        rows = [self._row({i: -1 / in_use[i]}, -1.0) for i in still]
        asked = replace(self.programme, limits=(*self.programme.limits, *rows))
        return asked.only(np.delete(np.arange(len(self.programme.columns)), dropped))

    def least_moved(self) -> Programme:
        """Return the programme whose least deviation is the neat gram taken out and put in, but for what is gone."""
        asked = Near(self.base, self.used, None, self.changes) if self.moved is not None else self
        whole, batch = asked.programme, self.base.batch_g
        content = np.zeros((len(self.lines) + 1, len(whole.columns)))
        in_use, neat = self.used.amounts[self.lines], self.used.neat[self.lines]
        content[np.arange(len(self.lines)), self.lines] = batch / in_use
        others = [*self._others(), *asked.on_top.values()]
        content[-1, others] = batch * asked._spread(self.used.neat)[others]
        wanted, ones = np.append(np.ones(len(self.lines)), 0.0), np.ones(1)
        return replace(
            whole,
            rows=tuple(f"row {k}" for k in range(len(content))),
            content=content,
            low=wanted,
            high=wanted,
            factor=np.append(neat * in_use, ones),
            measure="absolute",
        )


def _reach(programme: Programme) -> FloatArray:
    """Return what can at most be poured of each column (n,), gram."""
    with np.errstate(divide="ignore"):
        by_batch = np.where(programme.basis > 0, programme.batch_g / programme.basis, math.inf)
    return np.minimum(by_batch, FAR * programme.batch_g)
