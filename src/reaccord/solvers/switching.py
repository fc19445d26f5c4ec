"""What the doors that hand the whole programme to a solver share: its scale, its on/off columns, the fixed pattern.

Such a solver sees amounts in batches (1 = the whole batch), so that one tolerance means the same in a 2 g trial
and in a 5 kg lot.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray, LimitRow, Programme

BoolArray = NDArray[np.bool_]

FAR = 100.0
"""Batches nobody pours of one bottle; stands in for a missing upper bound until the answer shows a true one."""

ROUNDS = 4
"""How often what the limits leave of one column is looked at anew for what that leaves of others."""

CRUMB = 1e-10
"""Batches: a smaller amount of a column without minimum is a solver's crumb, not a weighing."""


def per_batch(programme: Programme) -> Programme:
    """Return the same programme with amounts in batches and every limit's largest number 1."""
    batch = programme.batch_g
    grams, used, largest, most = programme.limit_arrays
    size = np.maximum.reduce([largest * batch, used.max(axis=1, initial=0.0), np.abs(most)])
    size[size == 0] = 1.0
    parts = zip(programme.limits, grams * batch / size[:, None], used / size[:, None], most / size, strict=True)
    limits = (LimitRow(row.key, row.label, row.sentence, g, u, float(end)) for row, g, u, end in parts)
    return replace(
        programme,
        batch_g=1.0,
        minimum=programme.minimum / batch,
        maximum=programme.maximum / batch,
        limits=tuple(limits),
    )


class Switches(NamedTuple):
    """What is on or off in a programme (`per_batch`), and how far an amount can go.

    switched : (n,)
        Columns whose use must be told apart from a small amount: with a minimum, counted by a limit, or one
        strength among several.
    upper : (n,)
        Largest amount the limits leave, finite where switched; 0 where the column cannot be used.
    assumed : (n,)
        Columns whose `upper` is only `FAR`: no limit bounds them.
    """

    switched: BoolArray
    upper: FloatArray
    assumed: BoolArray

    @property
    def columns(self) -> NDArray[np.intp]:
        """Switched columns that can be used at all."""
        return np.flatnonzero(self.switched & (self.upper > 0))


def switches_of(programme: Programme) -> Switches:
    """Return what must be switched, and tight upper bounds for it."""
    switched = must_switch(programme)
    upper = reach(programme)
    assumed = switched & np.isinf(upper)
    upper = np.where(assumed, np.maximum(FAR, 10 * programme.minimum), upper)
    return Switches(switched, upper, assumed)


def must_switch(programme: Programme) -> BoolArray:
    """Return the columns (n,) whose use must be told apart from a small amount."""
    switched = (programme.minimum > 0) | (programme.limit_arrays[1] > 0).any(axis=0)
    for strengths in programme.strengths:
        for columns in strengths:
            switched[list(columns)] = True
    return switched


def reach(programme: Programme, *, needless: bool = False) -> FloatArray:
    """Return the largest amount (n,) of each column that stock, batch and limits leave; may be infinite.

    A limit bounds `x_i` by `(most - sum of the least the other columns can add) / amounts_i`. Columns that
    cannot reach their minimum, and columns that can only do harm unless `needless` ones count as well, get 0.
    """
    with np.errstate(divide="ignore"):
        by_batch = np.where(programme.basis > 0, programme.batch_g / programme.basis, np.inf)
    upper = np.minimum(programme.maximum, by_batch)
    if not needless:
        upper[_only_harms(programme)] = 0.0
    least = programme.minimum * (1 - 1e-9)
    upper = np.where(upper < least, 0.0, upper)
    for _ in range(ROUNDS if programme.limits else 0):
        before = upper
        upper = np.minimum(upper, _left_by_limits(programme, upper))
        upper = np.where(upper < least, 0.0, upper)
        if np.array_equal(before, upper):
            break
    return np.where(upper > 0, np.maximum(upper, programme.minimum), 0.0)


def within(programme: Programme, switches: Switches, value: float) -> Switches:
    """Return the switches with upper bounds that every formula no worse than `value` (`absolute`, `worst`) keeps.

    `x_i` alone lifts row `k` to `content x_i`, whatever else is poured, and `factor (content x_i - high)` is at most
    `value` there.
    """
    counted = programme.factor > 0
    content = programme.content[counted]
    room = (value / programme.factor[counted] + programme.high[counted]) * programme.batch_g
    reached = np.full(content.shape, np.inf)
    np.divide(np.broadcast_to(room[:, None], content.shape), content, out=reached, where=content > 0)
    upper = np.minimum(switches.upper, reached.min(axis=0, initial=np.inf))
    upper = np.where(upper < programme.minimum * (1 - 1e-9), 0.0, np.maximum(upper, programme.minimum))
    assumed = switches.assumed & (upper >= switches.upper)
    return switches._replace(upper=np.where(switches.upper > 0, upper, 0.0), assumed=assumed)


def hopeless(programme: Programme, switches: Switches) -> bool:
    """Tell whether the batch, or one limit by itself, is out of reach of all amounts up to `upper`."""
    with np.errstate(invalid="ignore"):
        most = np.where(programme.basis > 0, programme.basis * switches.upper, 0.0).sum()
    if most < programme.batch_g * (1 - 1e-9):
        return True
    return bool((_room(programme, switches.upper) < -1e-9).any())


def _room(programme: Programme, upper: FloatArray) -> FloatArray:
    """Return what is left of each limit (L,) when all that help it are poured up to their bounds (n,), nothing else."""
    grams, _, _, most = programme.limit_arrays
    with np.errstate(invalid="ignore"):
        return np.asarray(most - np.where(grams < 0, grams * upper, 0.0).sum(axis=1))


def _left_by_limits(programme: Programme, upper: FloatArray) -> FloatArray:
    """Return what the limits leave of each column (n,), given upper bounds (n,) of them all."""
    grams = programme.limit_arrays[0]
    room = np.maximum(_room(programme, upper), 0.0)  # a column whose entry is positive adds nothing to it itself
    bounds = np.divide(room[:, None], grams, out=np.full(grams.shape, np.inf), where=grams > 0)
    return np.asarray(bounds.min(axis=0))


def _only_harms(programme: Programme) -> BoolArray:
    """Columns outside the basis that help no limit and no row that wants to be filled: best left out."""
    helps = (programme.basis > 0) | (programme.limit_arrays[0] < 0).any(axis=0)
    wanted = (programme.low > 0) & (programme.factor > 0)
    helps = helps | (programme.content[wanted] > 0).any(axis=0)
    harms: BoolArray = ~helps
    return harms


def with_pattern(
    programme: Programme, switches: Switches, on: BoolArray
) -> tuple[Programme, Switches, NDArray[np.intp]]:
    """Return the continuous programme of the columns that are on, its (empty) switches, and where they stand.

    `on` (n,) counts for switched columns; the others stay as they are. In what is returned every minimum is
    a plain lower bound, what `used` takes is taken off `most`, and nothing is left to switch.
    """
    kept = np.flatnonzero(np.where(switches.switched, on, True) & (switches.upper > 0))
    counted = (switches.switched & on).astype(float)
    maximum = programme.maximum[kept]  # not `upper`: what the limits imply leaves an interior point no room
    limits = tuple(
        replace(
            row,
            amounts=row.amounts[kept],
            used=np.zeros(len(kept)),
            most=row.most - float(row.used @ counted),
        )
        for row in programme.limits
    )
    fixed = replace(
        programme,
        columns=tuple(programme.columns[i] for i in kept),
        content=programme.content[:, kept],
        basis=programme.basis[kept],
        minimum=programme.minimum[kept],
        maximum=maximum,
        limits=limits,
        strengths=(),
    )
    none = np.zeros(len(kept), dtype=bool)
    return fixed, Switches(none, maximum, none), kept


def spread_out(programme: Programme, kept: NDArray[np.intp], part: FloatArray) -> FloatArray:
    """Return amounts (n,) in gram from those of the kept columns in batches, exactly 0 elsewhere.

    A solver keeps bounds to its tolerance; here they hold exactly.
    """
    batches = np.zeros(len(programme.columns))
    batches[kept] = part
    grams = batches * programme.batch_g
    grams = np.clip(grams, programme.minimum, np.maximum(programme.maximum, programme.minimum))
    keep = np.zeros(len(grams), dtype=bool)
    keep[kept] = (part > CRUMB) | (programme.minimum[kept] > 0)
    clean: FloatArray = np.where(keep, grams, 0.0)
    return clean


def truly_bounded(programme: Programme, switches: Switches, value: float) -> bool:
    """Tell whether no formula beyond an assumed upper bound could be as good as `value`.

    `x_i` alone lifts row `k` to `content x_i`, so its deviation there is at least
    `factor (content x_i - high)`, whatever else is poured: contents are never negative.
    """
    columns = np.flatnonzero(switches.assumed)
    alone = programme.content[:, columns] * switches.upper[columns] / programme.batch_g
    over = np.maximum(alone - programme.high[:, None], 0.0)
    scaled = programme.factor[:, None] * over
    least = (scaled**2).sum(axis=0) if programme.measure == "squares" else scaled.max(axis=0, initial=0.0)
    return bool((least > value).all())
