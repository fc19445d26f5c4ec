"""From a choice of columns to amounts that can be weighed: exact, or not at all."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

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
FAR, FAINT = 1e-3, 1e-6
"""Of a value, and of that of nothing poured: polishing moves last digits, so that what is this far off stays so."""


class Formula(NamedTuple):
    """Amounts in gram (n,) that keep every limit, and their value by the programme.

    `support` (n,) are the columns chosen, `point` the solution over them, at batch 1.
    """

    amounts: FloatArray
    value: float
    support: BoolArray
    point: Point


def on_columns(
    programme: Programme,
    model: Model,
    support: BoolArray,
    below: float = math.inf,
    over: Callable[[], bool] = lambda: False,
    *,
    fine: bool = False,
) -> Formula | None:
    """Return the best amounts with exactly the columns of `support` (n,) at their minima or more, or None.

    None too if their value is not `below`. `fine` takes more pains over the last digits (see `refine`), until `over`.
    """
    scaled = model.scaled
    support = _with_helpers(scaled, support)
    state = np.where(support, ON, OFF).astype(np.int8)
    columns = np.flatnonzero(support)
    if not len(columns):
        return None
    for loosened in (0.0, -INSIDE):  # a limit far smaller than its coefficients is kept only from inside
        quadratic = model.restricted(state, columns, loosened)
        point = solve_quadratic(quadratic)
        if point is None or (not fine and _far_above(scaled, columns, point, below)):
            return None
        point = refined(model, columns, quadratic, point, over) if fine else polished(quadratic, point)
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


def _far_above(scaled: Scaled, columns: NDArray[np.intp], point: Point, below: float) -> bool:
    """Return whether the value of a point over these columns is so far from `below` that no last digit counts."""
    if math.isinf(below):
        return False
    amounts = np.zeros(len(scaled.minimum))
    amounts[columns] = point.x[: len(columns)]
    return scaled.value(amounts) > below * (1 + FAR) + FAINT * float(scaled.low @ scaled.low)


def _with_helpers(scaled: Scaled, support: BoolArray) -> BoolArray:
    """Return the columns of `support` (n,) and those helpers without which they could not be poured."""
    if not scaled.helpers.any():
        return support
    helpers = scaled.helpers & (scaled.basis == 0)
    poured = (support | scaled.helpers) & ~helpers
    return scaled.limits.called_for(poured, helpers, scaled.most - scaled.limits.switched(poured))


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
    limits = scaled.limits
    if not limits.counts:
        return np.asarray(broken)
    over = limits.reached(amounts) + limits.switched(used) > scaled.most + 1e-9
    if over.any():
        broken |= free & limits.columns_of(over[limits.row] & (limits.use > 0))
    return np.asarray(broken)
