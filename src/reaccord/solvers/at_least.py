"""How close formulas of fewer lines come at best: bounds that tell in microseconds which need not be solved."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray, Programme, deviation_of
from reaccord.solvers.nonnegative import nonnegative
from reaccord.solvers.switching import BoolArray

ACTIVE = 1e-9
"""Relative; a limit, or an end of a stock, as near as this may have a multiplier."""
BROKEN = 1e-7
"""Relative; a limit that is passed by less may be held."""
STATIONARY = 1e-7
"""Of the gradient: with more of it left the amounts are not the closest on their stocks, and tell nothing."""


class AtLeast(NamedTuple):
    """What formulas deviate at least, but for noise: `least` (n,) without each stock, `lost` (n,) to be taken off."""

    least: FloatArray
    lost: FloatArray

    def __call__(self, on: BoolArray) -> float:
        """Return what formulas with no other stocks than those `on` (n,) deviate at least."""
        return float(self.least.max(initial=-math.inf, where=~on)) - float(self.lost.sum(where=~on))

    def without(self, i: int) -> float:
        """Return what formulas of all stocks but one deviate at least."""
        return float(self.least[i]) - float(self.lost[i])


def at_least(programme: Programme, amounts: FloatArray) -> AtLeast:
    """Return bounds on formulas of fewer stocks than one, amounts (n,), that is the closest on its own."""
    if programme.measure == "squares":
        return AtLeast(*_squares(programme, amounts))
    return AtLeast(np.where(_breaks(programme), np.inf, _of_rows(programme)), np.zeros(len(amounts)))


def _squares(programme: Programme, amounts: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return bounds (n,) without each stock, from the multipliers: its amount has to go, and the rest makes way.

    What a limit allows is counted at its multiplier, a band row as a straight line: both are no more than what is. Of
    stocks that are left out no least is asked: what it was counted for, (n,), is to be taken off.
    """
    n = len(amounts)
    nothing = np.full(n, -math.inf), np.zeros(n)
    content = programme.factor[:, None] * programme.content / programme.batch_g
    residuals = programme.scaled_residuals(amounts)
    gradient = 2 * content.T @ residuals
    normals, down = _normals(programme, amounts)
    multipliers = nonnegative(normals, -gradient)
    if float(np.abs(gradient + normals @ multipliers).max()) > STATIONARY * float(np.abs(gradient).max()):
        return nothing
    shares = content[programme.low == programme.high]
    system = np.zeros((n + 1, n + 1))
    system[:n, :n], system[:n, n], system[n, :n] = shares.T @ shares, programme.basis, programme.basis
    try:
        inverse = np.linalg.inv(system)
    except np.linalg.LinAlgError:
        return nothing
    if float(np.abs(system @ inverse - np.eye(n + 1)).max()) > STATIONARY:
        return nothing
    spread, least, lost = np.diag(inverse)[:n], *nothing
    np.divide(amounts**2, spread, out=least, where=spread > 0)
    lost[down] = multipliers[: len(down)] * programme.minimum[down]
    return least + float(residuals @ residuals), lost


def _normals(programme: Programme, amounts: FloatArray) -> tuple[FloatArray, NDArray[np.intp]]:
    """Return the normals (n, count) of what a formula stands at and what stands at its least, whose come first.

    Of limits those that count no stocks: they hold whatever else is left out.
    """
    grams, used, _, most = programme.limit_arrays
    size = np.maximum(np.abs(most), np.abs(grams) @ amounts)
    at_it = ~used.any(axis=1) & (most - grams @ amounts <= ACTIVE * size)
    one = np.eye(len(amounts))
    down = np.flatnonzero(amounts <= programme.minimum * (1 + ACTIVE))
    up = np.flatnonzero(amounts >= programme.maximum * (1 - ACTIVE))
    return np.vstack([-one[down], one[up], programme.basis, -programme.basis, grams[at_it]]).T, down


def _of_rows(programme: Programme) -> FloatArray:
    """Return bounds (n,) without each stock: no row is beyond what one of the others alone would bring it to."""
    with np.errstate(divide="ignore", invalid="ignore"):
        alone = np.where(programme.content > 0, programme.content / programme.basis, 0.0)
    least, most = -_most_of_others(-alone), _most_of_others(alone)
    low, high, factor = (part[:, None] for part in (programme.low, programme.high, programme.factor))
    with np.errstate(invalid="ignore"):
        away = np.maximum(np.maximum(low - most, least - high), 0.0)
        return np.asarray(deviation_of(programme.measure, np.where(factor > 0, factor * away, 0.0)))


def _breaks(programme: Programme) -> BoolArray:
    """Return the stocks (n,) without which a limit is broken by whatever of the others."""
    n, batch = len(programme.columns), programme.batch_g
    if not programme.limits or (programme.basis <= 0).any():
        return np.zeros(n, dtype=bool)
    amounts, used, largest, ends = programme.limit_arrays
    most = ends[:, None]
    least = -_most_of_others(-amounts / programme.basis) * batch + used.sum(axis=1, keepdims=True) - used
    size = np.maximum(np.abs(most), largest[:, None] * batch)
    return np.asarray((least - most > BROKEN * size).any(axis=0))


def _most_of_others(values: FloatArray) -> FloatArray:
    """Return for each column of values (m, n) the largest of the others, -infinity where it is alone."""
    n = values.shape[1]
    if n == 1:
        return np.full(values.shape, -np.inf)
    order = np.argpartition(values, n - 2, axis=1)[:, -2:]
    second, first = np.take_along_axis(values, order, axis=1).T
    return np.asarray(np.where(np.arange(n) == order[:, 1:], second[:, None], first[:, None]))
