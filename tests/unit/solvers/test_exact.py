"""The exact door: what it promises, on programmes whose answer is known by hand or by other means."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from tests.random_programmes import realistic, small

from reaccord.contract import Budget, FloatArray, LimitRow, Programme, gap_of
from reaccord.domain.limit_key import LimitKey
from reaccord.solvers.exact import first_formula, solve
from reaccord.solvers.exact.heuristic import Formulas

FINE = Budget(gap=1e-8)


def singles(shares: FloatArray, minimum: float = 0.0, batch_g: float = 10.0) -> Programme:
    """Return a shelf of pure single chemicals, one for each share, by the proportional scale."""
    n = len(shares)
    return Programme(
        columns=tuple(f"stock {i}" for i in range(n)),
        rows=tuple(f"row {i}" for i in range(n)),
        content=np.eye(n),
        low=shares,
        high=shares,
        factor=np.maximum(shares, 0.001) ** -0.5,
        basis=np.ones(n),
        batch_g=batch_g,
        minimum=np.full(n, minimum),
        maximum=np.full(n, np.inf),
    )


def limited(programme: Programme, amounts: FloatArray, most: float, used: FloatArray | None = None) -> Programme:
    none = np.zeros(len(programme.columns))
    row = LimitRow(LimitKey("restricted"), "limit", "a limit", amounts, none if used is None else used, most)
    return replace(programme, limits=(*programme.limits, row))


def test_pure_singles_are_met_exactly() -> None:
    programme = singles(np.array([0.5, 0.3, 0.2]))
    answer = solve(programme, FINE)
    assert answer.status == "proven"
    assert answer.amounts == pytest.approx([5.0, 3.0, 2.0])
    assert answer.value == pytest.approx(0.0, abs=1e-12)
    assert gap_of(answer.value, answer.bound) == 0.0


def test_missing_single_keeps_the_ratios_of_the_rest() -> None:
    # y_j = t_j / sum of t over what is on the shelf
    programme = singles(np.array([0.5, 0.3, 0.2]))
    programme = replace(programme, maximum=np.array([np.inf, np.inf, 0.0]))
    answer = solve(programme, FINE)
    assert answer.status == "proven"
    assert answer.amounts == pytest.approx([6.25, 3.75, 0.0])


def test_trace_under_the_minimum_is_left_out_or_poured_at_the_minimum() -> None:
    shares = np.array([0.897, 0.1, 0.003])
    programme = singles(shares, minimum=0.04)
    answer = solve(programme, FINE)
    assert answer.amounts is not None
    without, with_it = shares.copy(), shares.copy()
    without[2], with_it[2] = 0.0, 0.004
    best = math.inf
    for grams in (0.0, 0.04):
        rest = (10.0 - grams) * shares[:2] / shares[:2].sum()
        best = min(best, programme.value(np.append(rest, grams)))
    assert answer.value == pytest.approx(best, rel=1e-9)
    assert answer.amounts[2] == 0.0 or answer.amounts[2] >= 0.04


def test_lines_limit_is_kept_and_best() -> None:
    programme = limited(singles(np.array([0.4, 0.3, 0.2, 0.1])), np.zeros(4), 2.0, used=np.ones(4))
    answer = solve(programme, FINE)
    assert answer.status == "proven"
    assert answer.amounts is not None
    assert list(np.flatnonzero(answer.amounts)) == [0, 1]


def test_fixed_charges_of_different_size_share_one_row() -> None:
    # 3 + 1 fits, 3 + 2 does not: the largest with the third
    programme = limited(singles(np.array([0.6, 0.3, 0.1])), np.zeros(3), 4.0, used=np.array([3.0, 2.0, 1.0]))
    answer = solve(programme, FINE)
    values = {
        support: programme.value(np.where(np.isin(range(3), support), amounts, 0.0))
        for support, amounts in (
            ((0, 2), np.array([60 / 7, 0.0, 10 / 7])),
            ((1, 2), np.array([0.0, 7.5, 2.5])),
            ((0,), np.array([10.0, 0.0, 0.0])),
        )
    }
    assert answer.value == pytest.approx(min(values.values()), rel=1e-9)


def test_one_strength_of_a_material() -> None:
    base = singles(np.array([0.995, 0.005]), minimum=0.5)
    content = np.hstack([base.content, 0.1 * base.content[:, 1:]])
    programme = replace(
        base,
        columns=("a", "b", "b 10 %"),
        content=content,
        basis=content.sum(axis=0),
        minimum=np.full(3, 0.2),
        maximum=np.full(3, np.inf),
        strengths=(((1,), (2,)),),
    )
    answer = solve(programme, FINE)
    assert answer.amounts == pytest.approx([9.95, 0.0, 0.5])


def test_infeasible_is_said_only_with_proof() -> None:
    programme = singles(np.array([0.5, 0.5]))
    assert solve(limited(programme, np.ones(2), 9.0), FINE).status == "infeasible"
    assert solve(replace(programme, minimum=np.full(2, 11.0)), FINE).status == "infeasible"
    ratio = limited(programme, np.array([1.0, -1e-9]), 0.0)  # a ratio with tiny coefficients: hardly any of one
    answer = solve(ratio, FINE)
    assert answer.status == "proven"
    assert answer.amounts is not None
    assert ratio.excess(answer.amounts) <= 1e-9


def test_at_least_uses_a_stock_outside_the_basis() -> None:
    programme = singles(np.array([0.7, 0.3, 0.0]))
    programme = replace(programme, basis=np.array([1.0, 1.0, 0.0]), factor=np.array([1.2, 1.8, 4.5]))
    answer = solve(limited(programme, np.array([0.0, 0.0, -1.0]), -1.0), FINE)
    assert answer.status == "proven"
    assert answer.amounts == pytest.approx([7.0, 3.0, 1.0])


def test_auxiliary_column_couples_limits() -> None:
    # |x_0 - 2| <= a and a <= 1: the closest reachable amount is 3
    base = singles(np.array([0.5, 0.5]))
    programme = replace(
        base,
        columns=("a", "b", "moved"),
        content=np.hstack([base.content, np.zeros((2, 1))]),
        basis=np.array([1.0, 1.0, 0.0]),
        minimum=np.zeros(3),
        maximum=np.full(3, np.inf),
    )
    programme = limited(programme, np.array([1.0, 0.0, -1.0]), 2.0)
    programme = limited(programme, np.array([-1.0, 0.0, -1.0]), -2.0)
    programme = limited(programme, np.array([0.0, 0.0, 1.0]), 1.0)
    answer = solve(programme, FINE)
    assert answer.status == "proven"
    assert answer.amounts is not None
    assert answer.amounts[:2] == pytest.approx([3.0, 7.0])


def test_without_columns_nothing_is_possible() -> None:
    nothing = replace(singles(np.zeros(0)), rows=("row",), content=np.zeros((1, 0)), low=np.ones(1), high=np.ones(1))
    answer = solve(replace(nothing, factor=np.ones(1)), FINE)
    assert answer.status == "infeasible"
    assert answer.amounts is None


def test_bands_cost_nothing_inside() -> None:
    programme = singles(np.array([0.5, 0.3, 0.2]))
    programme = replace(programme, low=np.array([0.6, 0.1, 0.1]), high=np.array([0.7, 0.3, 0.2]))
    answer = solve(programme, FINE)
    assert answer.value == pytest.approx(0.0, abs=1e-12)
    assert answer.status == "proven"


@pytest.mark.parametrize("seed", range(4))
def test_same_programme_same_amounts(seed: int) -> None:
    programme = realistic(30, 28, seed, lines=9)
    first, second = solve(programme, Budget(gap=1e-4)), solve(programme, Budget(gap=1e-4))
    assert first.amounts is not None
    assert second.amounts is not None
    assert np.array_equal(first.amounts, second.amounts)
    assert first.bound == second.bound


@pytest.mark.parametrize("seed", range(3))
def test_batch_with_its_limits_scales_the_answer(seed: int) -> None:
    programme, tenfold = realistic(30, 28, seed), realistic(30, 28, seed, batch_g=100.0)
    small_batch, large_batch = solve(programme, Budget(gap=1e-8)), solve(tenfold, Budget(gap=1e-8))
    assert small_batch.amounts is not None
    assert large_batch.amounts is not None
    assert large_batch.value == pytest.approx(small_batch.value, rel=1e-7)
    assert large_batch.amounts == pytest.approx(10 * small_batch.amounts, rel=1e-4, abs=1e-5)


def test_another_bottle_never_hurts() -> None:
    programme = realistic(30, 28, 5)
    shut = replace(programme, maximum=np.where(np.arange(28) < 4, 0.0, programme.maximum))
    fewer, more = solve(shut, Budget(gap=1e-6)), solve(programme, Budget(gap=1e-6))
    assert more.bound <= fewer.value


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    ("constituents", "bottles", "lines", "strengths"),
    [(60, 50, None, (0.1, 0.01)), (60, 60, 12, ()), (60, 60, None, ())],
)
def test_realistic_shelf_is_proven_in_moderate_time(
    seed: int, constituents: int, bottles: int, lines: int | None, strengths: tuple[float, ...]
) -> None:
    programme = realistic(constituents, bottles, seed, lines=lines, strengths=strengths)
    answer = solve(programme, Budget(gap=1e-3, seconds=20.0))
    assert answer.status == "proven"
    assert answer.amounts is not None
    assert programme.excess(answer.amounts) <= 1e-9


def test_without_minima_the_first_relaxation_is_the_answer() -> None:
    programme = realistic(60, 60, 0)
    answer = solve(replace(programme, minimum=np.zeros(60)), FINE)
    assert answer.status == "proven"
    assert answer.value <= solve(programme, Budget(gap=1e-3)).value


def test_time_is_honoured_and_what_was_found_is_given() -> None:
    programme = realistic(150, 230, 2, lines=20)
    answer = solve(programme, Budget(gap=1e-6, seconds=1.0))
    assert answer.status == "feasible"
    assert answer.amounts is not None
    assert 0 < answer.bound < answer.value
    assert programme.excess(answer.amounts) <= 1e-9


def test_stop_ends_the_search_with_a_formula() -> None:
    asked = itertools.count()
    answer = solve(realistic(60, 60, 1, lines=12), Budget(gap=1e-9, stop=lambda: next(asked) > 30))
    assert answer.status == "feasible"
    assert answer.amounts is not None


def test_progress_tells_value_bound_and_nodes() -> None:
    told: list[tuple[float, float, int]] = []
    programme = realistic(60, 60, 0, lines=20)
    found: list[float] = []
    budget = Budget(gap=1e-3, seconds=2.0, progress=lambda *what: told.append(what))
    solve(programme, replace(budget, found=lambda amounts: found.append(programme.value(amounts))))
    assert told
    assert found == pytest.approx([value for value, _, _ in told]), "the formula that is told of"
    assert all(bound <= value for value, bound, _ in told)
    assert [bound for _, bound, _ in told] == sorted(bound for _, bound, _ in told)


def test_ceiling_equal_to_a_bottle_s_own_price_lets_it_in() -> None:
    programme = limited(singles(np.array([0.5, 0.5])), np.array([1e-18, 0.02]), 0.0)
    answer = solve(programme, FINE)
    assert answer.status == "proven"
    assert answer.amounts == pytest.approx([10.0, 0.0])


def test_other_measures_are_refused() -> None:
    with pytest.raises(ValueError, match="squares, not absolute"):
        solve(replace(small(0), measure="absolute"), FINE)


def test_what_it_begins_from_is_tried_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without any other way to a formula it comes back as poured; where it cannot hold, nothing is lost."""
    programme = realistic(30, 28, 3, lines=8)
    best = solve(programme, FINE)
    assert best.amounts is not None
    for way in ("round_off", "fill", "dive", "improve"):
        monkeypatch.setattr(Formulas, way, lambda *_: None)
    assert first_formula(programme, Budget()) is None
    found = first_formula(programme, Budget(start=2 * best.amounts))
    assert found == pytest.approx(best.amounts, abs=1e-6)
    assert first_formula(programme, Budget(start=np.ones(len(best.amounts)))) is None
