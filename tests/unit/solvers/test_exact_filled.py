"""What is on fills rows for certain: bounds stay below every formula, narrowed amounts keep every better one."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.solvers.test_exact_separable import drawn, levels_of

from reaccord.solvers.exact.bound import Duals, bound_of
from reaccord.solvers.exact.filled import Filled
from reaccord.solvers.exact.narrowing import narrowed
from reaccord.solvers.exact.node_qp import Node
from reaccord.solvers.exact.scaled import FREE, ON
from reaccord.solvers.exact.separable import Terms


@pytest.mark.parametrize("seed", range(40))
def test_squared_distance_is_never_below_what_is_filled_allows(seed: int) -> None:
    scaled, rng = drawn(seed)
    n = len(scaled.basis)
    for _ in range(30):
        x = rng.exponential(0.3, n) * (rng.random(n) < 0.6)
        on = (x > 0) & (rng.random(n) < 0.5)
        state = np.where(on, ON, FREE).astype(np.int8)
        within = scaled.within(np.where(on, x * rng.random(n), 0.0), np.full(n, np.inf))
        filled = Filled.of(within, state)
        levels = np.maximum(levels_of(rng, scaled), filled.rows)
        off, distance = levels - np.clip(levels, scaled.low, scaled.high), scaled.distance(x)
        tangent = off @ (off + 2 * (scaled.content @ x - levels))
        terms = Terms.of(within, levels, filled).value(x).sum()
        assert tangent + terms <= distance @ distance * (1 + 1e-12) + 1e-12


@pytest.mark.parametrize("seed", range(40))
def test_what_is_filled_proves_no_less(seed: int) -> None:
    scaled, rng = drawn(seed)
    n = len(scaled.basis)
    levels, x = levels_of(rng, scaled), rng.exponential(0.3, n)
    state = np.where(rng.random(n) < 0.5, ON, FREE).astype(np.int8)
    filled = Filled.of(scaled.within(0.5 * x, np.full(n, np.inf)), state)
    levels = np.maximum(levels, filled.rows)
    more, less = Terms.of(scaled, levels, filled).value(x), Terms.of(scaled, levels).value(x)
    assert (more >= less * (1 - 1e-12) - 1e-12).all()


@pytest.mark.parametrize("seed", range(40))
def test_outside_of_narrowed_amounts_the_bound_reaches_the_cut(seed: int) -> None:
    scaled, rng = drawn(seed)
    n = len(scaled.basis)
    scaled = scaled.with_maximum(np.minimum(scaled.maximum, 1.0))
    point, state = rng.exponential(0.1, n), scaled.first_state()
    duals = Duals(float(rng.normal()), rng.exponential(0.1, len(scaled.most)), scaled.content @ point)
    bound = bound_of(scaled, state, point, duals)
    cut = bound.value + abs(float(rng.normal())) * 0.1
    left = narrowed(scaled, Node(state, point, bound, duals, point > 0), cut)
    if left is None:
        return
    for column in np.flatnonzero((left.minimum > scaled.minimum) & (state != -1)):
        beyond = scaled.maximum.copy()
        beyond[column] = left.minimum[column]
        poured = state.copy()
        poured[column] = ON
        below = bound_of(scaled.with_maximum(beyond), poured, point, duals)
        assert below.value >= cut - 1e-9 * max(1.0, abs(cut))
