"""Whether any formula is possible, told without a solver: most questions of a conflict are this plain.

With amounts in batches, between ends that the limits narrow one after the other. No formula is left where ends cross,
or where the least of one limit over the batch (dearest last: a knapsack whose parts may be cut) is above its most.
One is found where one stock alone or two stocks in some ratio hold every limit. All else is asked of HiGHS.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reaccord.contract import FloatArray, Programme
from reaccord.solvers.switching import BoolArray

MOST_PAIRS, ROUNDS = 2000, 3
"""Pairs times limits looked at; how often the ends are narrowed."""
BROKEN, HELD = 1e-7, 1e-9
"""A limit counts as broken, and as held, only beyond this part of its largest number."""
FAR = 1000.0
"""Batches nobody pours of one stock."""


class Limits(NamedTuple):
    """Amounts in batches: `amounts @ x + used @ [x > 0] <= most`, (L, n) and (L,), the largest number of each row 1.

    `full`, `minimum`, `maximum` (n,): what fills the batch alone, at most `FAR`; what can be poured.
    """

    amounts: FloatArray
    used: FloatArray
    most: FloatArray
    basis: FloatArray
    full: FloatArray
    minimum: FloatArray
    maximum: FloatArray

    @staticmethod
    def of(programme: Programme) -> Limits:
        """Return the limits of a programme."""
        n, batch = len(programme.columns), programme.batch_g
        amounts = np.array([row.amounts for row in programme.limits]).reshape(-1, n) * batch
        used = np.array([row.used for row in programme.limits]).reshape(-1, n)
        most = np.array([row.most for row in programme.limits], dtype=float)
        size = np.maximum(np.abs(amounts).max(axis=1), used.max(axis=1)) if len(most) else most
        size = np.where(size > 0, size, 1.0)
        full = 1.0 / np.maximum(programme.basis, 1.0 / FAR)
        return Limits(
            amounts / size[:, None],
            used / size[:, None],
            most / size,
            programme.basis,
            full,
            programme.minimum / batch,
            np.minimum(programme.maximum / batch, full),
        )

    @property
    def fill(self) -> BoolArray:
        """Which stocks (n,) can make a batch alone, were there enough."""
        return np.asarray(self.basis * FAR >= 1.0)


def at_a_glance(programme: Programme) -> bool | None:
    """Return whether a formula is possible where that is plain, None where it is not."""
    limits = Limits.of(programme)
    if _alone(limits):
        return True
    if _excluded(limits):
        return False
    return (not programme.strengths and _two_together(limits)) or None


def _excluded(limits: Limits) -> bool:
    """Tell whether ends of amounts that every formula keeps cross each other, or leave one limit no room."""
    low, high = np.zeros(len(limits.full)), limits.maximum
    takes, gives = np.maximum(limits.amounts, 0.0), np.minimum(limits.amounts, 0.0)
    steep = np.where(limits.amounts != 0, limits.amounts, 1.0)
    most = limits.most[:, None] + BROKEN
    for _ in range(ROUNDS):
        high = np.where(high < limits.minimum * (1 - HELD), 0.0, high)
        if float(limits.basis @ high) < 1.0 - BROKEN or (low > high + BROKEN).any():
            return True
        if not len(limits.most):
            return False
        on = low > 0
        least = takes * low + gives * high + limits.used * on
        whole = least.sum(axis=1, keepdims=True)
        if (whole > most).any():
            return True
        others = whole - least
        charge = limits.used + takes * limits.minimum  # a column that is used takes at least this
        high = np.where((others + charge + gives * high > most).any(axis=0), 0.0, high)
        ends = (most - others - limits.used * on) / steep
        high = np.minimum(high, np.where(takes > 0, ends, FAR).min(axis=0))
        low = np.maximum(low, np.where(gives < 0, ends, 0.0).max(axis=0))
        low = np.where(low > BROKEN, np.maximum(low, limits.minimum), 0.0)
    return bool((_least(limits, low, np.maximum(high, low)) > limits.most + BROKEN).any())


def _least(limits: Limits, low: FloatArray, high: FloatArray) -> FloatArray:
    """Return the least of each limit over amounts between two ends that make the batch, (L,)."""
    per_gram = limits.amounts + limits.used / np.where(high > 0, high, 1.0)
    fills = (limits.basis > 0) & (high > 0)
    fixed = per_gram @ low + (np.minimum(per_gram, 0.0) @ np.where(fills, 0.0, high - low))
    ratio = per_gram[:, fills] / limits.basis[fills]
    order = np.argsort(ratio, axis=1)
    room = ((high - low) * limits.basis)[fills][order]
    missing = 1.0 - float(limits.basis @ low) - (np.cumsum(room, axis=1) - room)
    return np.asarray(fixed + (np.take_along_axis(ratio, order, 1) * np.clip(missing, 0.0, room)).sum(axis=1))


def _alone(limits: Limits) -> bool:
    """Tell whether one stock alone holds every limit."""
    able = limits.fill & (limits.minimum <= limits.full) & (limits.maximum >= limits.full)
    reached = limits.amounts[:, able] * limits.full[able] + limits.used[:, able]
    return bool((reached <= limits.most[:, None] + HELD).all(axis=0).any())


def _two_together(limits: Limits) -> bool:
    """Tell whether two stocks hold every limit in some ratio: of the batch, `part` from one, the rest from another."""
    able = np.flatnonzero(limits.fill & (limits.maximum > 0) & (limits.maximum >= limits.minimum))
    if len(able) ** 2 * max(len(limits.most), 1) > 2 * MOST_PAIRS:
        return False
    first, second = (able[k] for k in np.triu_indices(len(able), 1))
    least, greatest = limits.minimum / limits.full, limits.maximum / limits.full
    low = np.maximum(least[first], 1.0 - greatest[second])
    high = np.minimum(greatest[first], 1.0 - least[second])
    whole = limits.amounts * limits.full
    slope = whole[:, first] - whole[:, second]
    room = limits.most[:, None] + HELD - whole[:, second] - limits.used[:, first] - limits.used[:, second]
    flat = np.abs(slope) < HELD
    ends = room / np.where(flat, 1.0, slope)
    low = np.maximum(low, np.where(~flat & (slope < 0), ends, 0.0).max(axis=0, initial=0.0))
    high = np.minimum(high, np.where(~flat & (slope > 0), ends, 1.0).min(axis=0, initial=1.0))
    return bool(((low <= high) & ~(flat & (room < 0)).any(axis=0)).any())
