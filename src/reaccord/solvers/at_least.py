"""How close formulas of fewer lines come at best: bounds that tell in microseconds which need not be solved."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from reaccord.contract import FloatArray, Programme
from reaccord.solvers import highs
from reaccord.solvers.nonnegative import nonnegative
from reaccord.solvers.switching import BoolArray

AtLeast = Callable[[BoolArray], float]
"""Returns what formulas with no other stocks than those `on` (n,) deviate at least, but for noise."""

ACTIVE = 1e-9
"""Relative; a limit, or an end of a stock, as near as this may have a multiplier."""
STATIONARY = 1e-7
"""Of the gradient: with more of it left the amounts are not the closest on their stocks, and tell nothing."""
UNIT = 0.01
"""Deviations are counted in hundredths, as in `linear_model`."""
SWAYED = 1e-7
"""A deviation that HiGHS's tolerances may take off."""


def at_least(programme: Programme, amounts: FloatArray) -> AtLeast:
    """Return bounds on formulas of fewer stocks than one, amounts (n,), that is the closest on its own."""
    return _squares(programme, amounts) if programme.measure == "squares" else _linear(programme)


def _squares(programme: Programme, amounts: FloatArray) -> AtLeast:
    """Return bounds from the multipliers of the formula: without a stock its amount has to go, and the rest makes way.

    What a limit allows is counted at its multiplier, a band row as a straight line: both are no more than what is.
    """
    least = np.full(len(amounts), -math.inf)

    def bound(on: BoolArray) -> float:
        return float(least.max(initial=-math.inf, where=~on))

    content = programme.factor[:, None] * programme.content / programme.batch_g
    residuals = programme.scaled_residuals(amounts)
    gradient = 2 * content.T @ residuals
    normals = _normals(programme, amounts)
    left = gradient + normals @ nonnegative(normals, -gradient)
    if float(np.abs(left).max()) > STATIONARY * float(np.abs(gradient).max()):
        return bound
    shares = content[programme.low == programme.high]
    n = len(amounts)
    system = np.zeros((n + 1, n + 1))
    system[:n, :n], system[:n, n], system[n, :n] = shares.T @ shares, programme.basis, programme.basis
    try:
        inverse = np.linalg.inv(system)
    except np.linalg.LinAlgError:
        return bound
    spread = np.diag(inverse)[:n]
    if float(np.abs(system @ inverse - np.eye(n + 1)).max()) < STATIONARY:
        value = float(residuals @ residuals)
        np.divide(amounts**2, spread, out=least, where=spread > 0)
        least += np.where(spread > 0, value, 0.0)
    return bound


def _normals(programme: Programme, amounts: FloatArray) -> FloatArray:
    """Return the normals (n, count) of what a formula stands at: the batch, both ways, limits and ends of stocks."""
    used = amounts > 0
    limits = [
        row.amounts
        for row in programme.limits
        if row.most - float(row.amounts @ amounts) - float(row.used @ used)
        <= ACTIVE * max(abs(row.most), float(np.abs(row.amounts) @ amounts))
    ]
    one = np.eye(len(amounts))
    down, up = amounts <= programme.minimum * (1 + ACTIVE), amounts >= programme.maximum * (1 - ACTIVE)
    return np.column_stack([programme.basis, -programme.basis, *limits, *-one[down], *one[up]])


def _linear(programme: Programme) -> AtLeast:
    """Return bounds from one linear programme that stays loaded; limits that count stocks are left out."""
    n, batch = len(programme.columns), programme.batch_g
    columns = np.arange(n, dtype=np.int32)
    model: list[highs.Loaded] = []
    lower, upper = programme.minimum / batch, programme.maximum / batch

    def bound(on: BoolArray) -> float:
        if not model:
            model.append(highs.Loaded(_stated(programme)))
        model[0].bound(columns, np.where(on, lower, 0.0), np.where(on, upper, 0.0))
        return model[0].value() * UNIT - SWAYED

    return bound


def _stated(programme: Programme) -> highs.Linear:
    """Return a programme of a linear measure, amounts in batches, all its stocks used."""
    n, batch = len(programme.columns), programme.batch_g
    counted = np.flatnonzero(programme.factor > 0)
    content = programme.factor[counted, None] / UNIT * programme.content[counted]
    each = np.eye(len(counted)) if programme.measure == "absolute" else np.ones((len(counted), 1))
    limits = np.array([row.amounts * batch for row in programme.limits]).reshape(-1, n)
    most = np.array([row.most for row in programme.limits])
    size = np.abs(limits).max(axis=1, initial=0.0)
    limits, most = limits[size > 0] / size[size > 0, None], most[size > 0] / size[size > 0]
    amounts = np.vstack([programme.basis, limits, content, content])
    away = np.vstack([np.zeros((1 + len(limits), each.shape[1])), -each, each])
    factor = programme.factor[counted] / UNIT
    none, over = np.full(len(limits), -np.inf), np.full(len(counted), np.inf)
    return highs.Linear(
        cost=np.concatenate([np.zeros(n), np.ones(each.shape[1])]),
        lower=np.zeros(n + each.shape[1]),
        upper=np.full(n + each.shape[1], np.inf),
        rows=np.hstack([amounts, away]),
        least=np.concatenate([[1.0], none, -over, factor * programme.low[counted]]),
        most=np.concatenate([[1.0], most, factor * programme.high[counted], over]),
    )
