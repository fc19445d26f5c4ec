"""Whether a formula is possible once some limits are left out: many questions of one programme, few of them searched.

A formula tells which limits it breaks, a proof on which it rests: both answer other questions too. They come from a
linear programme that stays loaded, without switches, smallest masses and grids, and are reckoned again here before they
are believed. What neither settles is a search (`possible.py`).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from functools import cached_property
from itertools import compress

import numpy as np

from reaccord.contract import FloatArray, LimitRow, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.solvers import highs
from reaccord.solvers.possible import BoolArray, least_of, most_of, pairs_of_strengths, possible

WEIGHABLE, ON_HAND = LimitKey("smallest"), LimitKey("on hand")
"""Those of every bottle at once."""
Keys = Collection[LimitKey]
HELD = 1e-8
"""Relative to a row's largest number, in batches: a row passed by less is held."""
SLIGHT = 1e-10
"""The same of amounts on the grid, which nothing but floats makes unsharp."""
SURE = 1e-5
"""A proof must be out by more than this for each unit of its multipliers: then no tolerance of a search undoes it."""
DUST = 1e-9
"""Batches, and multipliers: less is none."""


def possible_without(programme: Programme, without: Keys) -> bool:
    """Whether a formula exists once these limits are left out: searched for."""
    kept = tuple(row for row in programme.limits if row.key not in without)
    free = [name for name, key in (("weighable", WEIGHABLE), ("on hand", ON_HAND)) if key in without]
    return possible(replace(programme, limits=kept), free)


class Dropped:
    """A programme whose limits, smallest masses (`WEIGHABLE`) and grams on hand (`ON_HAND`) can be left out.

    Amounts are in batches here, and each limit's largest number is 1.
    """

    def __init__(self, programme: Programme) -> None:
        self.programme = programme
        self._keys = [row.key for row in programme.limits]
        self._everything = frozenset({*self._keys, WEIGHABLE, ON_HAND})
        self._broken: list[frozenset[LimitKey]] = []
        self._needed: list[frozenset[LimitKey]] = []
        n, scale = len(programme.columns), programme.batch_g
        self._minimum, self._maximum = programme.minimum / scale, programme.maximum / scale
        self._largest = most_of(programme)
        grams, used, largest, most = programme.limit_arrays
        size = np.maximum(scale * largest, used.max(axis=1, initial=0.0))
        self._size = np.where(size > 0, size, 1.0)
        self._amounts, self._used = grams * (scale / self._size)[:, None], used / self._size[:, None]
        self._most = most / self._size
        self._columns = np.arange(n + len(self._keys), dtype=np.int32)
        self._of_one_bottle()

    def possible(self, without: Keys) -> bool:
        """Whether a formula exists once these limits are left out."""
        known = self._known(without)
        if known is None and len(self._largest):
            self._relaxed(without)
            known = self._known(without)
        if known is None:
            known = possible_without(self.programme, without)
            if known:
                self._broken.append(frozenset(without))
            else:
                self._needed.append(self._everything.difference(without))
        return known

    def least(self, row: LimitRow, without: Keys, seconds: float) -> FloatArray | None:
        """Return the formula (n,), in gram, that passes a limit least, if it must; None: not known.

        Its key is among those left `without`; all other limits hold.
        """
        amounts = self._least_relaxed(self.place(row), without)
        if amounts is not None:
            return amounts * self.programme.batch_g
        others = replace(self.programme, limits=tuple(one for one in self.programme.limits if one.key not in without))
        return least_of(others, row.amounts, row.used, seconds)

    def largest_batch(self, seconds: float) -> FloatArray | None:
        """Return the formula (n,), in gram, of the largest batch up to the one asked for that every limit allows.

        None: not known.
        """
        programme, model = self.programme, self._model
        model.price(self._columns, np.concatenate([-programme.basis, np.zeros(len(self._keys))]))
        model.rows(0, 0.0, 1.0)
        said = self._solved(self._limits(()))
        model.rows(0, 1.0, 1.0)
        if said.columns is not None:
            amounts = self._clean(said.columns)
            made = float(programme.basis @ amounts)
            if -said.value <= DUST or (made >= -said.value - HELD and self._breaks(amounts) == frozenset()):
                return amounts * programme.batch_g
        return least_of(programme, -programme.basis, np.zeros(len(programme.basis)), seconds, (0.0, 1.0))

    def over(self, amounts: FloatArray, without: Keys) -> FloatArray | None:
        """Return by how much amounts (n,), in gram, pass each limit but those left out, (L,); 0: they hold it.

        None if they break a smallest mass or the grams on hand. That strengths go together is not asked.
        """
        amounts = amounts / self.programme.batch_g
        used = amounts > 0
        if ((used & (amounts < self._minimum - HELD)) | (amounts > self._maximum + HELD)).any():
            return None
        over = self._amounts @ amounts + self._used @ used - self._most
        return np.where((over > SLIGHT) & (self._limits(without) == 0), over, 0.0)

    def mixed(
        self, on: BoolArray, costs: FloatArray, without: Keys, room: FloatArray, batches: float
    ) -> FloatArray | None:
        """Return the cheapest formula (n,), in gram, of the columns that are `on`; None if there is none.

        It keeps each limit but those left out by `room` (L,) more, in the numbers of `over`, and makes so many batches.
        """
        model, passed = self._model, self._limits(without)
        model.price(self._columns, np.concatenate([costs / (np.abs(costs).max() or 1.0), np.zeros(len(room))]))
        least, most = np.where(on, self._minimum, 0.0), np.where(on, self._maximum, 0.0)
        lower, upper = np.where(passed > 0, 0.0, -room), np.where(passed > 0, np.inf, -room)
        model.bound(self._columns, np.concatenate([least, lower]), np.concatenate([most, upper]))
        model.rows(0, batches, batches)
        said = model.solve()
        model.rows(0, 1.0, 1.0)
        return None if said.columns is None else self._clean(said.columns) * self.programme.batch_g

    def rounding(self, on: BoolArray) -> FloatArray:
        """Return by how much each limit, (L,), is passed at most when the columns that are `on` go to whole steps."""
        found: FloatArray = np.abs(self._amounts[:, on]) @ self.programme.step[on] / (2 * self.programme.batch_g)
        return found

    def place(self, row: LimitRow) -> int:
        """Return where a limit stands."""
        return next(i for i, one in enumerate(self.programme.limits) if one is row)

    def _known(self, without: Keys) -> bool | None:
        """Answer from what was found before; None where that does not tell."""
        if any(broken.issubset(without) for broken in self._broken):
            return True
        return False if any(needed.isdisjoint(without) for needed in self._needed) else None

    def _of_one_bottle(self) -> None:
        """Note which limits the formulas of one stock alone break."""
        alone = np.flatnonzero(self.programme.basis * self._largest >= 1 - DUST)
        amounts = np.zeros((len(self._largest), len(alone)))
        amounts[alone, np.arange(len(alone))] = 1 / self.programme.basis[alone]
        for made in self.programme.made:
            poured = amounts[made.stock]
            amounts[made.column] = np.where(
                poured > 0, np.maximum(poured, made.least_g / self.programme.batch_g), amounts[made.column]
            )
        self._broken += dict.fromkeys(self._broken_by(amounts))  # most bottles break the same limits

    def _note(self, amounts: FloatArray) -> None:
        """Keep which limits a formula (n,) breaks, if it is one."""
        broken = self._breaks(amounts)
        if broken is not None and abs(float(self.programme.basis @ amounts) - 1) <= HELD:
            self._broken.append(broken)

    def _breaks(self, amounts: FloatArray) -> frozenset[LimitKey] | None:
        """Return the limits that amounts (n,) break; None if they pour two strengths of one material."""
        used = amounts > 0
        for strengths in self.programme.strengths:
            if sum(bool(used[list(columns)].any()) for columns in strengths) > 1:
                return None
        return self._broken_by(amounts[:, None])[0]

    def _broken_by(self, amounts: FloatArray) -> list[frozenset[LimitKey]]:
        """Return the limits that each of several formulas, amounts (n, count), breaks."""
        used = amounts > 0
        over = self._amounts @ amounts + self._used @ used - self._most[:, None] > HELD
        light = (used & (amounts < self._minimum[:, None] - HELD)).any(axis=0)
        beyond = (amounts > self._maximum[:, None] + HELD).any(axis=0)
        broken = np.vstack([over, light, beyond]).T
        keys = [*self._keys, WEIGHABLE, ON_HAND]
        return [frozenset(compress(keys, one)) for one in broken.tolist()]

    @cached_property
    def _model(self) -> highs.Loaded:
        """The relaxation in HiGHS: amounts, and by how much each limit is passed; the batch is row 0.

        A switch is at least what is poured over the most that could be.
        """
        n, limits, programme = len(self._largest), len(self._keys), self.programme
        pairs = np.zeros((len(pairs_of_strengths(programme)), n))
        for k, pair in enumerate(pairs_of_strengths(programme)):
            pairs[k, list(pair)] = 1 / self._largest[list(pair)]
        rows = np.vstack([programme.basis, self._amounts + self._used / self._largest, pairs])
        passed = np.zeros((len(rows), limits))
        passed[1 : 1 + limits] = -np.eye(limits)
        ends = np.concatenate([[1.0], self._most, np.ones(len(pairs))])
        self._rows, self._ends = rows[1:], ends[1:]
        return highs.Loaded(
            highs.Linear(
                cost=np.zeros(n + limits),
                lower=np.zeros(n + limits),
                upper=np.concatenate([self._largest, np.full(limits, np.inf)]),
                rows=np.hstack([rows, passed]),
                least=np.concatenate([[1.0], np.full(len(rows) - 1, -np.inf)]),
                most=ends,
            )
        )

    def _limits(self, without: Keys) -> FloatArray:
        """Return by how much each limit may be passed: none, or as much as one likes."""
        return np.array([np.inf if key in without else 0.0 for key in self._keys])

    def _solved(self, passed: FloatArray, on_hand: bool = True) -> highs.Said:
        top = np.minimum(self._maximum, self._largest) if on_hand else self._largest
        self._model.bound(self._columns, np.zeros(len(self._columns)), np.concatenate([top, passed]))
        return self._model.solve()

    def _clean(self, columns: FloatArray) -> FloatArray:
        amounts = columns[: len(self._largest)]
        return np.where(amounts > DUST, amounts, 0.0)

    def _relaxed(self, without: Keys) -> None:
        """Look for a formula, and for a proof that there is none, at the least sum by which limits are passed."""
        kept = np.array([key not in without for key in self._keys], dtype=bool)
        self._model.price(self._columns, np.concatenate([np.zeros(len(self._largest)), kept]))
        said = self._solved(np.full(len(kept), np.inf), ON_HAND not in without)
        if said.columns is None:
            return
        if said.value <= DUST:
            self._note(self._clean(said.columns))
            return
        batch, multipliers = float(said.duals[0]), np.maximum(0.0, -said.duals[1:])
        multipliers[multipliers < DUST] = 0.0
        prices = multipliers @ self._rows - batch * self.programme.basis
        rest = batch - float(multipliers @ self._ends)
        sure = SURE * (float(multipliers.sum()) + abs(batch))
        needed = {key for key, multiplier in zip(self._keys, multipliers, strict=False) if multiplier}
        if rest + float(np.minimum(prices, 0.0) @ self._largest) > sure:
            self._needed.append(frozenset(needed))
        elif rest + float(np.minimum(prices, 0.0) @ np.minimum(self._maximum, self._largest)) > sure:
            self._needed.append(frozenset({*needed, ON_HAND}))

    def _least_relaxed(self, place: int, without: Keys) -> FloatArray | None:
        """Return what passes a limit least, in batches, where the relaxation's formula is one; None: search."""
        costs = np.zeros(len(self._columns))
        costs[len(self._largest) + place] = 1.0
        self._model.price(self._columns, costs)
        said = self._solved(self._limits(without))
        if said.columns is None:
            return None
        amounts = self._clean(said.columns)
        broken, made = self._breaks(amounts), float(self.programme.basis @ amounts)
        least = float(self._amounts[place] @ amounts + self._used[place] @ (amounts > 0))
        real = broken is not None and broken.issubset(without) and abs(made - 1) <= HELD
        return amounts if real and least <= self._most[place] + said.value + HELD else None
