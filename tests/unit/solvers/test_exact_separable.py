"""Terms of single columns: never more than the squared distance they stand for, and their least point is the least."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.random_programmes import small

from reaccord.contract import FloatArray
from reaccord.solvers.exact.presolve import presolve
from reaccord.solvers.exact.scaled import Scaled, scale
from reaccord.solvers.exact.separable import Terms, rise


def levels_of(rng: np.random.Generator, scaled: Scaled) -> FloatArray:
    """Return levels below, inside and above the bands."""
    rows = len(scaled.low)
    return rng.exponential(0.3, rows) * (rng.random(rows) < 0.8) + scaled.low * rng.choice([0.0, 0.9, 1.0], rows)


def with_bands(scaled: Scaled, rng: np.random.Generator) -> Scaled:
    """Return the same with half of its rows opened into bands."""
    wider = rng.exponential(0.2, len(scaled.low)) * (rng.random(len(scaled.low)) < 0.5)
    return replace(scaled, high=scaled.high + wider)


def drawn(seed: int) -> tuple[Scaled, np.random.Generator]:
    rng = np.random.default_rng(seed)
    return with_bands(presolve(scale(small(seed))), rng), rng


@pytest.mark.parametrize("seed", range(40))
def test_squared_distance_is_never_below_tangent_and_terms(seed: int) -> None:
    scaled, rng = drawn(seed)
    for _ in range(50):
        levels = levels_of(rng, scaled)
        x = rng.exponential(0.3, len(scaled.basis)) * (rng.random(len(scaled.basis)) < 0.5)
        achieved = scaled.content @ x
        off, distance = levels - np.clip(levels, scaled.low, scaled.high), scaled.distance(x)
        terms = Terms.of(scaled, levels).value(x).sum()
        assert off @ (off + 2 * (achieved - levels)) + terms <= distance @ distance * (1 + 1e-12) + 1e-12


@pytest.mark.parametrize("seed", range(20))
def test_terms_are_the_rises_of_their_entries(seed: int) -> None:
    scaled, rng = drawn(seed)
    levels = levels_of(rng, scaled)
    x = rng.exponential(0.5, len(scaled.basis))
    row, column, entry = scaled.entries
    rises = rise(entry * x[column], levels[row], scaled.low[row], scaled.high[row])
    assert (rises >= -1e-12).all()
    summed = np.bincount(column, rises, minlength=len(x))
    assert Terms.of(scaled, levels).value(x) == pytest.approx(summed, abs=1e-12)


@pytest.mark.parametrize("seed", range(40))
def test_least_is_the_least_on_a_fine_grid(seed: int) -> None:
    scaled, rng = drawn(seed)
    terms = Terms.of(scaled, levels_of(rng, scaled))
    reduced = rng.normal(size=len(scaled.basis)) * 10.0 ** rng.uniform(-2, 0)
    low = scaled.minimum
    high = np.minimum(np.maximum(scaled.maximum, low), low + 3.0)
    least = terms.least(reduced, low, high)
    amounts = low + np.linspace(0, 1, 4001)[:, None] * (high - low)
    values = np.array([reduced * x + terms.value(x) for x in amounts])
    grid = values.min(axis=0)
    assert (least <= grid + 1e-12).all()
    # between two points of the grid a convex curve lies above the secants that meet there from outside
    steepest = np.abs(np.diff(values, axis=0)).max(axis=0)
    assert (least >= grid - steepest - 1e-12).all()


def test_least_in_a_slope_that_is_flat_between() -> None:
    """A level under the band: the slope climbs, stays and climbs again; the least lies on the last piece, by hand."""
    scaled, _ = drawn(0)
    n = len(scaled.basis)
    content, low, high = np.zeros((1, n)), np.array([1.0]), np.array([2.0])
    content[0, 0] = 1.0
    one = replace(scaled, content=content, low=low, high=high)
    terms = Terms.of(one, np.array([0.5]))
    reduced = np.zeros(n)
    for pull, at in ((-0.5, 0.75), (-1.0, 1.5), (-3.0, 3.0)):  # slope 2 (x - 0.5), then 1, then 1 + 2 (x - 2)
        reduced[0] = pull
        value = pull * at + (at - 0.5) ** 2 - max(at - 1, 0) ** 2 + max(at - 2, 0) ** 2
        assert terms.least(reduced, np.zeros(n), np.full(n, 10.0))[0] == pytest.approx(value, abs=1e-12)
        assert terms.least(reduced, np.zeros(n), np.full(n, np.inf))[0] == pytest.approx(value, abs=1e-12)


def test_without_an_end_and_without_terms_there_is_no_least() -> None:
    scaled = presolve(scale(small(0)))
    n = len(scaled.basis)
    none = Terms.of(replace(scaled, content=np.zeros((0, n)), low=np.zeros(0), high=np.zeros(0)), np.zeros(0))
    least = none.least(np.full(n, -1.0), np.zeros(n), np.full(n, np.inf))
    assert np.isneginf(least).all()
    assert (none.least(np.ones(n), np.full(n, 0.5), np.full(n, np.inf)) == 0.5).all()
