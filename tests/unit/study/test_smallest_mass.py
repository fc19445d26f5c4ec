"""The smallest weighable mass and the balance's grid.

USP General Chapter <41>: twice the standard deviation, divided by the smallest mass, must not exceed
0.10 %; a standard deviation under 0.41 d counts as 0.41 d. So the least start is 820 d.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reaccord.domain.settings import BalanceSettings
from reaccord.study.smallest_mass import exact, grams_of, on_grid, smallest_mass, steps_down, steps_up


@pytest.mark.parametrize("readability", [0.1, 0.01, 0.001, 0.0001, 0.00001])
def test_820_readabilities_at_the_published_tolerance(readability: float) -> None:
    assert smallest_mass(BalanceSettings(readability, tolerance=0.001)) == pytest.approx(820 * readability)


@pytest.mark.parametrize(
    ("readability", "tolerance", "grams"),
    [(0.01, 0.01, 0.82), (0.001, 0.02, 0.041), (0.1, 0.05, 1.64)],  # arithmetic from the same rule
)
def test_other_tolerances(readability: float, tolerance: float, grams: float) -> None:
    assert smallest_mass(BalanceSettings(readability, tolerance=tolerance)) == pytest.approx(grams)


def test_a_repeatability_above_the_floor_counts() -> None:
    assert smallest_mass(BalanceSettings(0.01, tolerance=0.01, repeatability_g=0.02)) == pytest.approx(4.0)
    assert smallest_mass(BalanceSettings(0.01, tolerance=0.01, repeatability_g=0.001)) == pytest.approx(0.82)


def test_given_outright_and_the_larger_of_both() -> None:
    assert smallest_mass(BalanceSettings(0.01, minimum_g=0.5)) == 0.5
    assert smallest_mass(BalanceSettings(0.01, minimum_g=0.5, tolerance=0.01)) == pytest.approx(0.82)
    assert smallest_mass(BalanceSettings(0.01, minimum_g=2, tolerance=0.01)) == 2


def test_one_step_where_nothing_is_said() -> None:
    assert smallest_mass(BalanceSettings(0.01)) == 0.01
    assert smallest_mass(BalanceSettings(0.01, minimum_g=0.001)) == 0.01


def test_decimals_as_a_person_writes_them() -> None:
    assert steps_up(0.3, 0.1) == steps_down(0.3, 0.1) == 3
    assert grams_of(3, 0.1) == 0.3
    assert (steps_up(0.25, 0.1), steps_down(0.25, 0.1)) == (3, 2)
    assert on_grid(1.23, 0.01)
    assert not on_grid(1.234, 0.01)


def test_noise_of_arithmetic_is_no_step() -> None:
    assert steps_up(0.1 + 0.2, 0.1) == steps_down(0.1 * 3, 0.1) == 3


@given(st.integers(0, 10**7), st.sampled_from([1.0, 0.1, 0.01, 0.001, 0.0005, 0.03]))
def test_grid_points_stay_where_they_are(steps: int, step: float) -> None:
    grams = grams_of(steps, step)
    assert steps_up(grams, step) == steps_down(grams, step) == steps
    assert exact(grams) == steps * exact(step)
