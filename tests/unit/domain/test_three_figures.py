"""Rounding to the safe side: the figures, the side, the noise of floats."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from reaccord.domain.three_figures import three_figures


@pytest.mark.parametrize(
    ("value", "above", "below"),
    [
        (0.0, "0", "0"),
        (0.1 + 0.2, "0.300", "0.300"),
        (7.0, "7.00", "7.00"),
        (0.99951, "1.000", "0.999"),
        (12345.0, "12400", "12300"),
        (0.000123456, "0.000124", "0.000123"),
        (-1.2345, "-1.23", "-1.24"),
    ],
)
def test_the_figures_and_the_side(value: float, above: str, below: str) -> None:
    assert (f"{three_figures(value, up=True):f}", f"{three_figures(value, up=False):f}") == (above, below)


def test_never_on_the_other_side() -> None:
    draw = random.Random(15)
    for _ in range(300):
        value = draw.uniform(0.1, 10) * 10.0 ** draw.randint(-8, 8)
        low, high = (Fraction(three_figures(value, up=up, slack=0)) for up in (False, True))
        assert low <= Fraction(repr(value)) <= high <= low * Fraction(1011, 1000)
