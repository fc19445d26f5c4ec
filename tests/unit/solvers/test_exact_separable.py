"""Terms of single columns: never more than the square they stand for, and their least point is the least."""

from __future__ import annotations

import numpy as np
import pytest
from tests.random_programmes import small

from reaccord.solvers.exact.presolve import presolve
from reaccord.solvers.exact.scaled import Scaled, scale
from reaccord.solvers.exact.separable import Terms


def drawn(seed: int) -> tuple[Scaled, np.random.Generator, Terms]:
    scaled = presolve(scale(small(seed)))
    rng = np.random.default_rng(seed)
    rows = len(scaled.low)
    statements = [(rng.random(rows), rng.exponential(0.3, rows) * (rng.random(rows) < 0.7)) for _ in range(2)]
    return scaled, rng, Terms(scaled, *statements)


@pytest.mark.parametrize("seed", range(20))
def test_square_is_never_below_line_and_terms(seed: int) -> None:
    scaled = presolve(scale(small(seed)))
    rng = np.random.default_rng(seed)
    rows = len(scaled.low)
    weights = rng.random(rows) * ~scaled.banded
    for _ in range(50):
        levels = rng.exponential(0.3, rows)
        x = rng.exponential(0.3, len(scaled.basis)) * (rng.random(len(scaled.basis)) < 0.5)
        achieved = scaled.content @ x
        below = weights @ (2 * levels * achieved - levels**2) + Terms(scaled, (weights, levels)).value(x).sum()
        assert below <= weights @ achieved**2 * (1 + 1e-12) + 1e-12


@pytest.mark.parametrize("seed", range(20))
def test_least_is_the_least_on_a_fine_grid(seed: int) -> None:
    scaled, rng, terms = drawn(seed)
    reduced = rng.normal(size=len(scaled.basis))
    low = scaled.minimum
    high = np.minimum(np.maximum(scaled.maximum, low), low + 3.0)
    least = terms.least(reduced, low, high)
    values = np.array(
        [reduced * x + terms.value(x) for x in (low + part * (high - low) for part in np.linspace(0, 1, 2001))]
    )
    grid = values.min(axis=0)
    assert (least <= grid + 1e-12).all()
    assert (least >= grid - 1e-2 * (1 + np.abs(grid))).all()


def test_without_an_end_and_without_terms_there_is_no_least() -> None:
    scaled = presolve(scale(small(0)))
    n = len(scaled.basis)
    none = Terms(scaled, (np.zeros(len(scaled.low)), np.zeros(len(scaled.low))))
    least = none.least(np.full(n, -1.0), np.zeros(n), np.full(n, np.inf))
    assert np.isneginf(least).all()
    assert (none.least(np.ones(n), np.full(n, 0.5), np.full(n, np.inf)) == 0.5).all()
