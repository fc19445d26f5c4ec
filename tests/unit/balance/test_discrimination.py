"""What answers to a blind test prove, against published critical numbers and plain sums."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import pytest

from reaccord.balance.discrimination import SHARES, Rule

TRIANGLE = Rule("triangle")


def exactly(right: int, n: int, chance: Fraction) -> Fraction:
    return sum((comb(n, k) * chance**k * (1 - chance) ** (n - k) for k in range(right, n + 1)), start=Fraction(0))


@pytest.mark.parametrize(
    ("n", "level", "least"),
    [(6, 0.05, 5), (12, 0.05, 8), (12, 0.01, 9), (24, 0.001, 16), (42, 0.01, 22), (60, 0.10, 26), (96, 0.001, 48)],
)
def test_critical_numbers_of_the_triangle_are_the_published_ones(n: int, level: float, least: int) -> None:
    """Single figures of FAO document V7180E, appendix A."""
    assert Rule("triangle", level=level).critical(n) == least


@pytest.mark.parametrize(("n", "one", "two"), [(6, 6, 6), (8, 7, 8), (20, 15, 15), (30, 20, 21)])
def test_critical_numbers_of_the_pair(n: int, one: int, two: int) -> None:
    """Exact sums: the least number of right answers at 5 %, one-sided and two-sided."""
    half = Fraction(1, 2)
    assert exactly(one, n, half) <= Fraction(1, 20) < exactly(one - 1, n, half)
    assert 2 * exactly(two, n, half) <= Fraction(1, 20) < 2 * exactly(two - 1, n, half)
    assert (Rule("paired").critical(n), Rule("paired", two_sided=True).critical(n)) == (one, two)


@pytest.mark.parametrize("n", [1, 5, 18, 77])
def test_the_probability_is_the_exact_sum(n: int) -> None:
    for right in range(n + 1):
        assert TRIANGLE.probability(right, n) == pytest.approx(float(exactly(right, n, Fraction(1, 3))), rel=1e-12)
        even = min(Fraction(1), 2 * exactly(max(right, n - right), n, Fraction(1, 2)))
        assert Rule("paired", two_sided=True).probability(right, n) == pytest.approx(float(even), rel=1e-12)


def test_a_level_that_is_reached_exactly_counts() -> None:
    assert Rule("paired", level=1 / 16).critical(4) == 4
    assert Rule("triangle", level=1 / 27).critical(3) == 3


@pytest.mark.parametrize("rule", [TRIANGLE, Rule("paired"), Rule("paired", two_sided=True)])
@pytest.mark.parametrize("n", [12, 60])
def test_what_can_be_found_is_found_at_that_power(rule: Rule, n: int) -> None:
    least = rule.detectable(n)
    assert least is not None
    assert rule.power(n, least) == pytest.approx(1 - rule.miss)
    assert rule.power(n, least * 1.05) > 1 - rule.miss > rule.power(n, least * 0.95)


def test_too_few_prove_nothing() -> None:
    assert (TRIANGLE.critical(2), TRIANGLE.detectable(2), TRIANGLE.power(2, 1.0)) == (None, None, 0.0)


@pytest.mark.parametrize("share", SHARES)
def test_the_assessors_needed_suffice_and_six_fewer_do_not(share: float) -> None:
    needed = TRIANGLE.needed(share, 6)
    assert needed is not None
    assert needed % 6 == 0
    assert all(TRIANGLE.power(n, share) >= 0.8 for n in range(needed, 4 * needed, 6))
    assert TRIANGLE.power(needed - 6, share) < 0.8


def test_the_largest_share_the_answers_agree_with() -> None:
    """With 11 of 36 right in a triangle, fewer than luck brings, still 12 % may tell: 1 - 0.95 = P(X <= 11)."""
    most = TRIANGLE.most_discriminators(11, 36)
    right = most + (1 - most) / 3
    assert sum(comb(36, k) * right**k * (1 - right) ** (36 - k) for k in range(12)) == pytest.approx(0.05)
    assert TRIANGLE.most_discriminators(6, 6) == 1
