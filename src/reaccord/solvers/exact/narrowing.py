"""What a bound says of amounts: outside of an interval no formula is better than the one in hand.

Everything but a column's own term costs at least what the bound has without it, so the column, where it is used, has
an amount at which its own term leaves something below the cut. The term is convex: Newton's method finds its ends.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.bound import Priced, decided, rise_of
from reaccord.solvers.exact.node_qp import Node
from reaccord.solvers.exact.propagate import propagate
from reaccord.solvers.exact.scaled import FREE, ON, Scaled, State
from reaccord.solvers.exact.separable import Terms

STEPS, SMALL, NOTED = 8, 1e-3, 0.02
"""How often an end is moved, by what part of its way at least; what part of an interval must go to count."""
USED, LARGE = 0.01, 1e4
"""The switch from which on a free column is looked at; amounts without an end are left alone."""


class Learned(NamedTuple):
    """What a node's bound leaves: its state, None if nothing, the amounts within it, the least bound cut off."""

    state: State | None
    within: Scaled
    least: float


def learn(scaled: Scaled, node: Node, cut: float) -> Learned:
    """Return what a node's bound and the limits leave of it below `cut`; `scaled` is the programme as it began."""
    scaled = node.within or scaled
    state, least = decided(scaled, node.state, node.bound, cut)
    narrower = narrowed(scaled, node, cut)
    if narrower is not None:
        scaled, least = narrower, min(least, cut)
    return Learned(propagate(scaled, state), scaled, least)


def narrowed(scaled: Scaled, node: Node, cut: float) -> Scaled | None:
    """Return the programme with the ends that a node's bound leaves to its columns, None if they stay."""
    switches = np.ones(len(node.state)) if node.switches is None else node.switches
    looked_at = (node.state == ON) | ((node.state == FREE) & (switches > USED))
    columns = np.flatnonzero(looked_at & (scaled.maximum > scaled.minimum) & (scaled.maximum < LARGE))
    if not (np.isfinite(cut) and np.isfinite(node.bound.value) and len(columns)):
        return None
    low, high = scaled.minimum[columns], scaled.maximum[columns]
    priced = Priced.of(scaled, node.state, node.amounts, node.duals)
    slope, terms = priced.reduced[columns], priced.terms.among(columns)
    room = terms.least(slope, low, high) + (cut - node.bound.value) - rise_of(scaled, node.state, node.bound)[columns]

    at = np.clip(node.amounts[columns] / np.maximum(switches[columns], USED), low, high)
    left, right = _ends(slope, terms, room, at, (low, high))
    if not ((left - low) + (high - right) > NOTED * (high - low)).any():
        return None
    minimum, maximum = scaled.minimum.copy(), scaled.maximum.copy()
    minimum[columns], maximum[columns] = left, right
    return scaled.within(minimum, maximum)


def _ends(
    slope: FloatArray, terms: Terms, room: FloatArray, at: FloatArray, ends: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Return the ends (m,) of where `slope x + terms(x)` is below `room` around `at`, or a little farther out.

    Newton's method from `ends` inwards: as the term is convex, no step goes too far. Where `at` or an end is not known
    to lie on its side the end stays.
    """
    both, slope, at, room = Terms.side_by_side([terms, terms]), np.tile(slope, 2), np.tile(at, 2), np.tile(room, 2)
    inclined, outer = both.slopes(slope), np.concatenate(ends)

    def over(x: FloatArray) -> FloatArray:
        return np.asarray(slope * x + both.value(x) - room)

    above = over(outer)
    moving = (above >= 0) & (over(at) < 0)
    for _ in range(STEPS):
        incline = inclined(outer)[0]
        inner = outer - np.where(moving & (incline != 0), above / np.where(incline != 0, incline, 1.0), 0.0)
        further = over(inner)
        moving &= (further >= 0) & (np.abs(inner - outer) > SMALL * np.abs(outer - at))
        if not moving.any():
            break
        outer, above = np.where(moving, inner, outer), np.where(moving, further, above)
    left, right = np.split(outer, 2)
    return left, right
