"""Columns that nearly agree, as lots and qualities of one material do: decided together before one by one.

Leaving out one lot proves nothing, another takes its place. So a node is split on whether any of them is used; which
one is the last thing to be decided, and seldom has to be.
"""

from __future__ import annotations

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.demands import unmet
from reaccord.solvers.exact.node_qp import Node
from reaccord.solvers.exact.scaled import FREE, IntArray, Scaled, State

ALIKE = 0.98
"""The cosine of their contents from which on columns count as lots of one material."""
PARTLY = 1e-4
"""The switch, and what it lacks of 1, from which on it is undecided whether any of several lots is used."""


class Lots:
    """Which columns are lots of one material, (n,): the number of its first lot, -1 for none."""

    def __init__(self, scaled: Scaled, state: State) -> None:
        self.material = np.full(len(state), -1)
        if scaled.count_row is None:
            return
        among = np.flatnonzero((state == FREE) & (scaled.strength_of < 0) & (scaled.used[scaled.count_row] > 0))
        cosine = _cosines(scaled.content[:, among])
        left = np.ones(len(among), dtype=bool)
        for k in range(len(among)):
            alike = left & (cosine[k] >= ALIKE)
            if left[k] and alike.sum() > 1:
                self.material[among[alike]] = among[k]
            left &= ~alike

    def undecided(self, scaled: Scaled, node: Node) -> dict[int, IntArray]:
        """Return the free lots of each material of which it is open whether any is used, by the first of them."""
        if node.switches is None:
            return {}
        open_to = (node.state == FREE) & (self.material >= 0)
        for columns in unmet(scaled, node.state):
            open_to[columns] = False
        columns = np.flatnonzero(open_to)
        found = {}
        for material in sorted(set(self.material[columns].tolist())):  # np.unique imports masked arrays
            lots = columns[self.material[columns] == material]
            if len(lots) > 1 and PARTLY < float(node.switches[lots].sum()) < 1 - PARTLY:
                found[int(lots[0])] = lots
        return found


def _cosines(content: FloatArray) -> FloatArray:
    """Return the cosines between the columns of a matrix (K, m), shape (m, m)."""
    size = np.linalg.norm(content, axis=0)
    even = content / np.where(size > 0, size, 1.0)
    return np.asarray(even.T @ even)
