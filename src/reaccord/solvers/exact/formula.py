"""From a choice of columns to amounts that can be weighed: exact, or not at all."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray, Programme
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.qp import Point, polished, solve_quadratic
from reaccord.solvers.exact.refine import refined
from reaccord.solvers.exact.scaled import FREE, OFF, ON, Scaled, State

BoolArray = NDArray[np.bool_]
KEPT_TO, INSIDE, NOISE = 1e-9, 1e-8, 1e-9
"""A formula may break a limit by this much of the limit's size: rounding, no more."""


@dataclass(frozen=True)
class Formula:
    """Amounts in gram (n,) that keep every limit, and their value by the programme.

    `support` (n,) are the columns chosen, `point` the solution over them, at batch 1.
    """

    amounts: FloatArray
    value: float
    support: BoolArray
    point: Point


def on_columns(
    programme: Programme, model: Model, support: BoolArray, below: float = math.inf, *, fine: bool = False
) -> Formula | None:
    """Return the best amounts with exactly the columns of `support` (n,) at their minima or more, or None.

    None too if their value is not `below`. `fine` takes more pains over the last digits (see `refine`).
    """
    scaled = model.scaled
    support = support | scaled.helpers
    state = np.where(support, ON, OFF).astype(np.int8)
    columns = np.flatnonzero(support)
    if not len(columns):
        return None
    for loosened in (0.0, -INSIDE):  # a limit far smaller than its coefficients is kept only from inside
        quadratic = model.restricted(state, columns, loosened)
        point = solve_quadratic(quadratic)
        if point is None:
            return None
        point = refined(model, columns, quadratic, point) if fine else polished(quadratic, point)
        amounts = np.zeros(len(state))
        amounts[columns] = point.x[: len(columns)]
        if scaled.value(amounts) > below * (1 + NOISE):
            return None
        amounts *= programme.batch_g
        amounts = weighable(programme, amounts)
        value = programme.value(amounts)
        if value >= below:
            return None
        if programme.excess(amounts) <= KEPT_TO:
            return Formula(amounts, value, support, point)
    return None


def weighable(programme: Programme, amounts: FloatArray) -> FloatArray:
    """Return the amounts exactly within minimum and maximum, and exactly 0 where nothing is poured."""
    nothing = amounts <= 1e-13 * programme.batch_g
    return np.where(nothing, 0.0, np.clip(amounts, programme.minimum, programme.maximum))


def keeps_switches(scaled: Scaled, state: State, amounts: FloatArray) -> BoolArray:
    """Return the free columns whose amounts break a switch, a strength or a `used` row."""
    free = (state == FREE) & (amounts > 1e-12)
    broken = free & (amounts < scaled.minimum * (1 - 1e-9))
    used = (amounts > 1e-12) | (state == ON)
    if scaled.groups:
        _, of_group = scaled.strengths_used(used)
        broken |= free & np.append(of_group > 1, False)[scaled.strength_of]
    over = scaled.amounts @ amounts + scaled.used @ used > scaled.most + 1e-9
    if over.any():
        broken |= free & (scaled.used[over] > 0).any(axis=0)
    return np.asarray(broken)
