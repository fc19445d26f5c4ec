"""The closed form: no formula whatever lies below it, for any point and any duals."""

from __future__ import annotations

import numpy as np
import pytest
from tests.random_programmes import banded, realistic, small

from reaccord.contract import FloatArray, Programme
from reaccord.solvers.exact.bound import Duals, bound_of, decided
from reaccord.solvers.exact.dominance import from_stronger
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.node_qp import solve_node
from reaccord.solvers.exact.presolve import presolve
from reaccord.solvers.exact.propagate import propagate
from reaccord.solvers.exact.row_hull import relax_hull
from reaccord.solvers.exact.scaled import OFF, ON, Scaled, State, scale


def formulas(programme: Programme, seed: int, count: int = 400) -> list[FloatArray]:
    """Return random amounts that keep every limit of the programme, found by trying."""
    rng = np.random.default_rng(seed)
    n = len(programme.columns)
    kept = []
    for _ in range(count):
        amounts = np.where(rng.random(n) < rng.uniform(0.2, 0.9), rng.dirichlet(np.ones(n)), 0.0)
        reached = float(programme.basis @ amounts)
        if reached <= 0:
            continue
        amounts *= programme.batch_g / reached
        if programme.excess(amounts) <= 1e-12:
            kept.append(amounts)
    return kept


def any_duals(rng: np.random.Generator, scaled: Scaled) -> Duals:
    limits = rng.exponential(0.5, len(scaled.most)) * (rng.random(len(scaled.most)) < 0.5)
    anywhere = rng.exponential(0.3, len(scaled.low)) * (rng.random(len(scaled.low)) < 0.8)
    near = scaled.low + rng.uniform(-0.5, 1.5, len(scaled.low)) * (scaled.high - scaled.low)  # below, in and over bands
    levels = np.where(rng.random(len(scaled.low)) < 0.5, anywhere, np.maximum(near, 0.0))
    return Duals(float(rng.normal()), limits, levels)


@pytest.mark.parametrize("seed", range(30))
def test_no_formula_lies_below_any_bound(seed: int) -> None:
    programme = banded(seed) if seed % 2 else small(seed)
    scaled = presolve(scale(programme))
    rng = np.random.default_rng(seed)
    kept = formulas(programme, seed)
    for _ in range(20):
        point = rng.exponential(0.2, len(scaled.basis)) * (rng.random(len(scaled.basis)) < 0.6)
        bound = bound_of(scaled, scaled.first_state(), point, any_duals(rng, scaled))
        for amounts in kept:
            x = amounts / programme.batch_g
            if (x <= scaled.maximum + 1e-12).all():
                assert bound.value <= programme.value(amounts) * (1 + 1e-9) + 1e-9


@pytest.mark.parametrize("seed", range(30))
def test_decided_columns_cost_what_they_are_said_to(seed: int) -> None:
    programme = small(seed)
    scaled = presolve(scale(programme))
    rng = np.random.default_rng(seed)
    state = scaled.first_state()
    kept = formulas(programme, seed)
    point = rng.exponential(0.2, len(scaled.basis))
    bound = bound_of(scaled, state, point, any_duals(rng, scaled))
    for cut in bound.value + np.abs(rng.normal(size=10)):
        further, _ = decided(scaled, state, bound, float(cut))
        for amounts in kept:
            x = amounts / programme.batch_g
            inside = (x <= scaled.maximum + 1e-12).all()
            against = ((further == OFF) & (state != OFF) & (x > 0)) | ((further == ON) & (state != ON) & (x == 0))
            if inside and against.any():
                assert programme.value(amounts) >= cut * (1 - 1e-9) - 1e-9


@pytest.mark.parametrize("seed", range(60))
def test_row_hull_proves_no_more_than_is_true_and_no_less_than_plain_squares(seed: int) -> None:
    programme = banded(seed) if seed % 2 else small(seed)
    scaled = presolve(scale(programme))
    state = propagate(scaled, scaled.first_state())
    if state is None:
        return
    everything = np.ones(len(state), dtype=bool)
    weaker = solve_node(Model(scaled), state, everything, 1e-9)
    stronger = relax_hull(scaled, state, everything, 0.0, np.ones(len(scaled.entries[0]), dtype=bool))
    if weaker is None or stronger is None:
        return
    kept = [a for a in formulas(programme, seed) if (a / programme.batch_g <= scaled.maximum + 1e-12).all()]
    for amounts in kept:
        assert stronger.bound.value <= programme.value(amounts) * (1 + 1e-9) + 1e-9
    if not scaled.groups:  # the closed form excludes strengths better than either programme, by whatever duals it gets
        assert stronger.bound.value >= weaker.bound.value - 1e-4 * abs(weaker.bound.value) - 1e-6


def test_levels_of_bands_come_from_the_duals() -> None:
    """One bottle that the batch takes whole, two bands it misses: by the right levels the hull proves the value."""
    low, high = np.array([0.2, 0.6]), np.array([0.3, 0.8])
    programme = Programme(
        columns=("one", "other"),
        rows=("low", "high"),
        content=np.array([[0.5, 0.0], [0.4, 0.0]]),
        low=low,
        high=high,
        factor=np.ones(2),
        basis=np.ones(2),
        batch_g=1.0,
        minimum=np.array([1.0, 2.0]),
        maximum=np.array([1.0, 2.0]),
    )
    scaled = scale(programme)
    found = relax_hull(scaled, scaled.first_state(), np.ones(2, dtype=bool), 0.0, np.ones(2, dtype=bool))
    assert found is not None
    value = 0.2**2 + 0.2**2  # 0.5 over 0.3 and 0.4 under 0.6
    assert found.bound.value == pytest.approx(value, abs=1e-4)
    assert found.bound.value <= value + 1e-12


@pytest.mark.parametrize("seed", range(40))
def test_propagation_loses_no_formula(seed: int) -> None:
    programme = small(seed)
    scaled = scale(programme)
    rng = np.random.default_rng(seed)
    for amounts in formulas(programme, seed, 100):
        start: State = scaled.first_state()
        told = rng.random(len(start)) < 0.4
        start = np.where(told & (start == 0), np.where(amounts > 0, ON, OFF), start).astype(np.int8)
        further = propagate(scaled, start)
        assert further is not None
        assert not ((further == OFF) & (amounts > 0)).any()


def test_weaker_stock_is_only_for_what_the_stronger_cannot_weigh() -> None:
    programme = realistic(30, 28, 0, strengths=(0.1, 0.01))
    scaled = scale(programme)
    maximum = from_stronger(replace_endless(scaled))
    assert (maximum[28:56] <= scaled.minimum[:28] / 0.1 + 1e-12).all()
    assert np.array_equal(maximum[:28], replace_endless(scaled).maximum[:28])


def replace_endless(scaled: Scaled) -> Scaled:
    return presolve(scaled)
