"""Demands: sets of columns, disjoint, of which at least one is used; what branching on near-duplicates adds to a node.

For any `rho >= 0` and switches `z` that meet a demand, `worth @ z >= rho + sum_i (worth_i - rho) z_i` over its columns.
The best `rho` is the least worth of them, where that is not negative; so the closed form of `bound` stays one.
"""

from __future__ import annotations

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.scaled import FREE, OFF, ON, IntArray, Scaled, State


def unmet(scaled: Scaled, state: State) -> list[IntArray]:
    """Return the free columns of each demand that nothing which is on meets."""
    return [columns[state[columns] == FREE] for columns in scaled.demands if not (state[columns] == ON).any()]


def charged(scaled: Scaled, state: State, worth: FloatArray) -> tuple[FloatArray, float]:
    """Return what columns add (n,), the demands' multipliers taken from it, and the sum of these."""
    demanded, total = unmet(scaled, state), 0.0
    if demanded:
        worth = worth.copy()
    for columns in demanded:
        rho = max(0.0, float(worth[columns].min(initial=np.inf)))
        if np.isfinite(rho):
            worth[columns] -= rho
            total += rho
    return worth, total


def places(scaled: Scaled, state: State) -> int:
    """Return how many columns may be used beside those that are on and those that meet demands."""
    row = scaled.count_row
    assert row is not None
    charge = float(scaled.used[row].max())
    counted = scaled.used[row] > 0
    return int(scaled.most[row] / charge + 1e-9) - int((state[counted] == ON).sum()) - len(unmet(scaled, state))


def propagated(scaled: Scaled, state: State) -> bool:
    """Switch what the demands leave no choice, in place; return whether they can be met."""
    for columns in unmet(scaled, state):
        if not len(columns):
            return False
        if len(columns) == 1:
            state[columns] = ON
    if not scaled.demands or scaled.count_row is None:
        return True
    left = places(scaled, state)
    if left == 0:
        others = (state == FREE) & (scaled.used[scaled.count_row] > 0)
        others[np.concatenate([np.zeros(0, dtype=np.int_), *unmet(scaled, state)])] = False
        state[others] = OFF
    return left >= 0
