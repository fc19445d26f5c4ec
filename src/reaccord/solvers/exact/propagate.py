"""What follows from a decision: strengths that exclude each other, rows that have no room left."""

from __future__ import annotations

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.demands import propagated
from reaccord.solvers.exact.scaled import FREE, OFF, ON, Scaled, State

NOISE = 1e-9


def propagate(scaled: Scaled, state: State) -> State | None:
    """Return the state with all that follows from it, or None if no formula is left."""
    state = state.copy()
    while True:
        before = state.copy()
        if not (_one_strength(scaled, state) and propagated(scaled, state)):
            return None
        if not (_limits(scaled, state) and _batch(scaled, state)):
            return None
        if (before == state).all():
            return state


def _one_strength(scaled: Scaled, state: State) -> bool:
    if not scaled.groups:
        return True
    opened, of_group = scaled.strengths_used(state == ON)
    if (of_group > 1).any():
        return False
    shut = np.append((of_group == 1) & ~opened, False)  # -1, no strength, is never shut
    state[shut[scaled.strength_of]] = OFF
    return True


def _limits(scaled: Scaled, state: State) -> bool:
    if not len(scaled.most):
        return True
    slack = scaled.most - least_activity(scaled, state)
    noise = NOISE * np.maximum(1.0, np.abs(scaled.most))
    if (slack < -noise).any():
        return False
    limits = scaled.limits
    too_much = (state == FREE)[limits.column] & (scaled.least > (slack + noise)[limits.row])
    state[limits.column[too_much]] = OFF
    return True


def least_activity(scaled: Scaled, state: State) -> FloatArray:
    """Return the least value each limit row can take, shape (L,)."""
    of_entry = state[scaled.limits.column]
    least = np.where(of_entry == ON, scaled.least, np.minimum(scaled.least, 0.0))
    return scaled.limits.summed(np.where(of_entry == OFF, 0.0, least))


def _batch(scaled: Scaled, state: State) -> bool:
    least, most = scaled.in_batch
    taken, reach = float(least.sum(where=state == ON)), float(most.sum(where=state != OFF))
    if taken > 1 + NOISE or reach < 1 - NOISE:
        return False
    state[(state == FREE) & (least > 1 - taken + NOISE)] = OFF
    return True
