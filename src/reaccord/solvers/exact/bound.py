"""What any point and any duals prove: the closed form, and the decisions that follow from it.

For any `levels >= 0`, one a row, `mu`, `limits >= 0` (duals of the batch row and of the limit rows), every row, share
or band, is stated at its level by the inequality of `separable`. With `f` the sum of the rows' tangents:

    r = f' - mu basis + amounts' limits,    phi = used' limits
    bound = f(point) + mu (1 - basis @ point) - limits @ (most - amounts @ point)
            + sum_i (least of r_i x + terms_i(x) + phi_i [x > 0] over what x_i may be, less r_i point_i)

Of the strengths of one material only the cheapest counts. It is the same for every point; the one that the duals were
found with is taken, so that nothing large cancels. Poor duals only make it weaker: no solver's word is taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.demands import charged, places, unmet
from reaccord.solvers.exact.filled import Filled
from reaccord.solvers.exact.scaled import FREE, OFF, ON, Scaled, State
from reaccord.solvers.exact.separable import Terms


class Duals(NamedTuple):
    """Multipliers of the batch row and of the limit rows (L,); the content at which each row is stated (K,)."""

    mu: float
    limits: FloatArray
    levels: FloatArray


class Bound(NamedTuple):
    """A proven bound and what it is made of.

    value
        No formula within the state deviates by less (the programme's constant included).
    worth : (n,)
        The least a column adds when used, negative where using it helps.
    taken : (n,)
        What of it is in `value`.
    """

    value: float
    worth: FloatArray
    taken: FloatArray


def bound_of(scaled: Scaled, state: State, point: FloatArray, duals: Duals) -> Bound:
    """Return the bound that `point` (n,) and `duals` prove for the formulas within `state`."""
    return bounds_of([(scaled, state, point, duals)])[0]


def bounds_of(asked: Sequence[tuple[Scaled, State, FloatArray, Duals]]) -> list[Bound]:
    """Return the bounds of several states of one programme, each by its own amounts, point and duals.

    Side by side that is quicker than one after the other.
    """
    priced = [Priced.of(*one) for one in asked]
    terms = priced[0].terms if len(priced) == 1 else Terms.side_by_side([one.terms for one in priced])
    low = np.concatenate([scaled.minimum for scaled, _, _, _ in asked])
    high = np.concatenate([np.where(state == OFF, scaled.minimum, scaled.maximum) for scaled, state, _, _ in asked])
    least = terms.least(np.concatenate([one.reduced for one in priced]), low, high)
    return [
        _best(scaled, one, own)
        for (scaled, _, _, _), one, own in zip(asked, priced, least.reshape(len(asked), -1), strict=True)
    ]


class Priced(NamedTuple):
    """A state with the reduced costs (n,), the terms and what the point adds to the bound."""

    state: State
    point: FloatArray
    duals: Duals
    reduced: FloatArray
    terms: Terms
    level: float

    @staticmethod
    def of(scaled: Scaled, state: State, point: FloatArray, duals: Duals) -> Priced:
        """Return a state priced by a point and duals, every row stated at its level or at what it holds for certain."""
        achieved, filled = scaled.products.achieved(point), Filled.of(scaled, state)
        levels = np.maximum(duals.levels, filled.rows)
        off = levels - np.clip(levels, scaled.low, scaled.high)
        gradient = scaled.products.weighed(2.0 * off)
        level = float(off @ (off + 2.0 * (achieved - levels))) + scaled.constant
        terms = Terms.of(scaled, levels, filled)
        reduced, duals = _held(scaled, state, gradient - duals.mu * scaled.basis, duals, terms)
        level += duals.mu * (1.0 - float(scaled.basis @ point)) - float(reduced @ point)
        return Priced(state, point, duals, reduced, terms, level)


def _best(scaled: Scaled, one: Priced, least: FloatArray) -> Bound:
    """Return the bound of a state from the least of each column (n,)."""
    best: Bound | None = None
    for limits in _with_count(scaled, one.state, least, one.duals.limits):
        worth = np.asarray(least + scaled.limits.charged(limits))
        worth, demanded = charged(scaled, one.state, worth)
        taken = taken_of(scaled, one.state, worth)
        value = (
            one.level + demanded + float(taken.sum()) - float(limits @ (scaled.most - scaled.limits.reached(one.point)))
        )
        value = -np.inf if np.isnan(value) else value
        if best is None or value > best.value:
            best = Bound(value, worth, taken)
    assert best is not None
    return best


def _held(scaled: Scaled, state: State, priced: FloatArray, duals: Duals, terms: Terms) -> tuple[FloatArray, Duals]:
    """Return the reduced costs; a column without an upper bound gets none below 0, by raising a dual."""
    reduced = priced + scaled.limits.priced(duals.limits)
    endless = np.isinf(scaled.maximum) & (state != OFF)
    if not (endless & (reduced < 0)).any():
        return reduced, duals
    limits = duals.limits.copy()
    for i in np.flatnonzero(endless & (terms.curvature <= 0)):
        row = int(np.argmax(scaled.amounts[:, i])) if len(limits) else -1
        if reduced[i] < 0 and row >= 0 and scaled.amounts[row, i] > 0:
            limits[row] += -reduced[i] / scaled.amounts[row, i] * (1 + 1e-12)
            reduced = priced + scaled.limits.priced(limits)
    return reduced, duals._replace(limits=limits)


def _with_count(scaled: Scaled, state: State, least: FloatArray, limits: FloatArray) -> list[FloatArray]:
    """Return the duals to try: with the one that suits best for the row that counts columns.

    It is the worth of the best column that finds no place any more: the bound is then the sum of the best places.
    With several lots of one strength that is only a guess, so the duals as they were are tried too.
    """
    row = scaled.count_row
    if row is None:
        return [limits]
    suited = limits.copy()
    suited[row] = 0.0
    charge = float(scaled.used[row].max())
    worth = least + scaled.limits.charged(suited)
    counted = scaled.used[row] > 0
    competing = (state == FREE) & counted
    for columns in unmet(scaled, state):  # the best of these has a place of its own
        if len(columns):
            competing[columns[np.argmin(worth[columns])]] = False
    wanted = np.sort(_one_each(scaled, np.where(competing, np.minimum(worth, 0.0), 0.0)))
    left = places(scaled, state)
    if 0 <= left < len(wanted) and np.isfinite(wanted[left]):
        suited[row] = -wanted[left] / charge
    several_lots = any(len(columns) > 1 for strengths in scaled.groups for columns in strengths)
    return [suited, limits] if several_lots else [suited]


def _one_each(scaled: Scaled, worth: FloatArray) -> FloatArray:
    """Return the worth of columns without strengths, and of the best column of each strength group."""
    if not scaled.groups:
        return worth
    owner = scaled.strength_of
    best = np.zeros(int(owner.max()) + 1)
    np.minimum.at(best, owner[owner >= 0], worth[owner >= 0])
    return np.concatenate([worth[owner < 0], np.minimum.reduceat(best, scaled.group_starts)])


def taken_of(scaled: Scaled, state: State, worth: FloatArray) -> FloatArray:
    """Return what each column adds to the bound, of a material only its best strength; shape (n,)."""
    taken = np.where(state == ON, worth, np.minimum(worth, 0.0))
    taken[state == OFF] = 0.0
    if not scaled.groups:
        return np.asarray(taken)
    owner = scaled.strength_of
    within = owner >= 0
    total = np.bincount(owner[within], weights=taken[within], minlength=int(owner.max()) + 1)
    opened = np.bincount(owner[within], weights=state[within] == ON, minlength=len(total)) > 0
    rank = np.where(opened, -np.inf, total)
    best = np.minimum.reduceat(rank, scaled.group_starts)
    sizes = scaled.group_sizes
    chosen = rank <= np.repeat(best, sizes)
    doubled = np.repeat(np.add.reduceat(chosen, scaled.group_starts), sizes)
    share = np.where(chosen, 1.0 / np.maximum(doubled, 1), 0.0)
    kept = share[owner[within]]
    taken[within] = np.where(kept > 0, taken[within], 0.0) * kept
    return np.asarray(taken)


def decided(scaled: Scaled, state: State, bound: Bound, cut: float) -> tuple[State, float]:
    """Return the state with every column switched whose other choice costs `cut`, and the least of those costs.

    The strengths of one material are only ever switched off by this.
    """
    if np.isneginf(bound.value):
        return state, np.inf
    free = state == FREE
    used = bound.value + rise_of(scaled, state, bound)
    unused = np.where(scaled.strength_of < 0, bound.value - bound.taken, -np.inf)
    off, on = free & (used >= cut), free & (unused >= cut)
    on &= ~off
    further = state.copy()
    further[off], further[on] = OFF, ON
    return further, min(float(used[off].min(initial=np.inf)), float(unused[on].min(initial=np.inf)))


def rise_of(scaled: Scaled, state: State, bound: Bound) -> FloatArray:
    """Return by how much the bound rises when a column is used, shape (n,)."""
    rise = bound.worth - bound.taken
    if not scaled.groups:
        return np.asarray(rise)
    owner = scaled.strength_of
    within = owner >= 0
    best = np.where(state == ON, bound.worth, np.minimum(bound.worth, 0.0))
    best[state == OFF] = 0.0
    total = np.bincount(owner[within], weights=best[within], minlength=int(owner.max()) + 1)
    counted = np.bincount(owner[within], weights=bound.taken[within], minlength=len(total))
    sizes = scaled.group_sizes
    whole = np.repeat(np.add.reduceat(counted, scaled.group_starts), sizes)
    rise[within] = (total - whole)[owner[within]] - best[within] + bound.worth[within]
    return np.asarray(rise)
