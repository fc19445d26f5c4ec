"""Which column to decide next: try both ways where nothing is known, else trust what was seen.

Strong branching until a column was seen often enough, then pseudocosts.
"""

from __future__ import annotations

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.formula import BoolArray
from reaccord.solvers.exact.node_qp import Node
from reaccord.solvers.exact.scaled import FREE, OFF, ON, IntArray, Scaled, State

RELIABLE = 3
TRIED, PATIENCE = 10, 5
LITTLE = 1e-12


class PseudoCosts:
    """Rise of the bound per decision, averaged per column and direction (0: off, 1: on)."""

    def __init__(self, scaled: Scaled) -> None:
        n = len(scaled.basis)
        self._curve = 0.5 * scaled.products.curvature
        self._minimum = scaled.minimum
        self._sum, self._count = np.zeros((2, n)), np.zeros((2, n), dtype=np.int_)

    def learnt(self) -> tuple[FloatArray, IntArray]:
        """Return the sums of rises and how often each was seen, both (2, n)."""
        return self._sum, self._count

    def take(self, rises: FloatArray, seen: IntArray) -> None:
        """Begin from what another search learnt, both (2, n)."""
        self._sum, self._count = rises.copy(), seen.copy()

    def _way(self, node: Node) -> FloatArray:
        """Return how far each column has to go either way, shape (2, n)."""
        if node.switches is not None:
            return np.asarray(np.maximum([node.switches, 1.0 - node.switches], 0.05))
        amounts = node.amounts
        scale = np.maximum(self._minimum, 1e-9)
        up = np.maximum(self._minimum - amounts, 0.05 * scale) / scale
        return np.array([np.maximum(amounts / scale, 0.05), up])

    def learn(self, node: Node, column: int, direction: int, bound: float) -> None:
        """Note what deciding `column` did to the relaxation's own bound; an empty bound teaches nothing."""
        if not np.isfinite(bound - node.bound.value):
            return
        way = float(self._way(node)[direction, column])
        self._sum[direction, column] += max(bound - node.bound.value, 0.0) / way
        self._count[direction, column] += 1

    def known(self, column: int) -> bool:
        """Return whether both directions were seen often enough."""
        return bool(self._count[:, column].min() >= RELIABLE)

    def scores(self, node: Node) -> FloatArray:
        """Return what deciding each column promises, shape (n,); the unseen by curvature, scaled to the seen."""
        way = self._way(node)
        if node.switches is not None:
            full = node.amounts / np.maximum(node.switches, 1e-6)
            guess = self._curve * full**2 * way
        else:
            distance = np.array([node.amounts, np.maximum(self._minimum - node.amounts, 0.0)])
            guess = self._curve * distance**2
        seen = self._count > 0
        mean = np.where(seen, self._sum / np.maximum(self._count, 1), 0.0) * way
        if seen.any():
            guess = guess * float(mean[seen].mean() / max(guess[seen].mean(), LITTLE))
        rise = np.where(seen, mean, guess)
        return score(rise[0], rise[1])

    def candidates(self, node: Node, broken: BoolArray) -> IntArray:
        """Return the broken columns, the most promising first."""
        columns = np.flatnonzero(broken)
        return columns[np.argsort(-self.scores(node)[columns], kind="stable")]


def choices(scaled: Scaled, state: State, column: int) -> list[State]:
    """Return the states that together cover `state`, the one without the column first.

    Where lines count, a material with several strengths is decided as a whole: unused, or one of them.
    Leaving out one strength alone proves nothing, another takes its place.
    """
    strengths = _strengths_left(scaled, state, column)
    if scaled.count_row is None or len(strengths) < 2:
        without, with_it = state.copy(), state.copy()
        without[column], with_it[column] = OFF, ON
        return [without, with_it]
    states = [_set(state, np.concatenate(strengths), OFF)]
    for columns in strengths:
        states.append(_set(states[0], columns, ON if len(columns) == 1 else FREE))
    return states


def _strengths_left(scaled: Scaled, state: State, column: int) -> list[IntArray]:
    """Return the free columns of each strength of the column's material, none if it has no strengths."""
    for strengths in scaled.groups:
        if any(column in columns for columns in strengths):
            left = [columns[state[columns] == FREE] for columns in strengths]
            return [columns for columns in left if len(columns)]
    return []


def _set(state: State, columns: IntArray, choice: np.int8) -> State:
    changed = state.copy()
    changed[columns] = choice
    return changed


def score(off: FloatArray, on: FloatArray) -> FloatArray:
    """Return the product of the two rises: both children should move."""
    return np.asarray(np.maximum(off, LITTLE) * np.maximum(on, LITTLE))
