"""What a bound says of amounts: outside of an interval no formula is better than the one in hand.

Everything but a column's own term costs at least what the bound has without it, so the column, where it is used, has
an amount at which its own term leaves something below the cut. The term is convex: its ends are found by halves.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray
from reaccord.solvers.exact.bound import Priced, decided, rise_of
from reaccord.solvers.exact.node_qp import Node
from reaccord.solvers.exact.propagate import propagate
from reaccord.solvers.exact.scaled import FREE, ON, Scaled, State

HALVINGS, NOTED = 20, 0.02
"""How often an end's interval is halved; what part of an interval must go to count."""
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

    def beyond(x: FloatArray) -> NDArray[np.bool_]:
        return np.asarray(slope * x + terms.value(x) >= room)

    at = np.clip(node.amounts[columns] / np.maximum(switches[columns], USED), low, high)
    left, right = _end(beyond, at, low), _end(beyond, at, high)
    if not ((left - low) + (high - right) > NOTED * (high - low)).any():
        return None
    minimum, maximum = scaled.minimum.copy(), scaled.maximum.copy()
    minimum[columns], maximum[columns] = left, right
    return scaled.within(minimum, maximum)


def _end(beyond: Callable[[FloatArray], NDArray[np.bool_]], at: FloatArray, end: FloatArray) -> FloatArray:
    """Return the point nearest to `at` found to lie beyond the interval on the way to `end`, or `end`; (n,)."""
    known = ~beyond(at) & beyond(end)
    inner, outer = at, end
    for _ in range(HALVINGS):
        middle = 0.5 * (inner + outer)
        out = beyond(middle)
        outer, inner = np.where(out, middle, outer), np.where(out, inner, middle)
    return np.where(known, outer, end)
