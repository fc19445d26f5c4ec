"""What must be switched, and how far an amount can go."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.random_programmes import small
from tests.unit.solvers.hand import in_two_strengths, limited, singles

from reaccord.contract import Measure
from reaccord.solvers import linear
from reaccord.solvers.switching import (
    hopeless,
    per_batch,
    reach,
    spread_out,
    switches_of,
    truly_bounded,
    with_pattern,
    within,
)


def test_only_minima_counts_and_strengths_are_switched() -> None:
    assert not switches_of(singles([0.5, 0.5])).switched.any()
    assert switches_of(singles([0.5, 0.5], [0.0, 1.0])).switched.tolist() == [False, True]
    assert switches_of(limited(singles([0.5, 0.5]), 1.0, used=[1.0, 0.0])).switched.tolist() == [True, False]
    assert switches_of(in_two_strengths()).switched.tolist() == [False, True, True]


def test_reach_is_what_stock_batch_and_limits_leave() -> None:
    programme = replace(singles([0.5, 0.3, 0.2]), maximum=np.array([np.inf, 2.0, np.inf]))
    assert reach(programme).tolist() == [10.0, 2.0, 10.0]
    # x0 - x1 <= 1 and at most 2 g of x1
    assert reach(limited(programme, 1.0, amounts=[1.0, -1.0, 0.0])).tolist() == [3.0, 2.0, 10.0]
    # what cannot reach its minimum cannot be used
    assert reach(replace(programme, minimum=np.array([0.0, 3.0, 0.0]))).tolist() == [10.0, 0.0, 10.0]


def test_bottle_that_only_harms_is_left_out_and_one_that_is_asked_for_is_not() -> None:
    foreign = replace(singles([1.0, 0.0]), basis=np.array([1.0, 0.0]))
    assert reach(foreign).tolist() == [10.0, 0.0]
    asked = limited(foreign, -2.0, amounts=[0.0, -1.0])
    assert reach(asked).tolist() == [10.0, np.inf]
    switches = switches_of(replace(asked, minimum=np.array([0.0, 1.0])))
    assert switches.assumed.tolist() == [False, True]
    assert np.isfinite(switches.upper).all()


def test_assumed_end_is_true_when_more_would_be_worse() -> None:
    programme = per_batch(limited(replace(singles([1.0, 0.0], 1.0), basis=np.array([1.0, 0.0])), -2.0, [0.0, -1.0]))
    switches = switches_of(programme)
    assert switches.assumed.any()
    assert truly_bounded(programme, switches, 1.0)
    assert not truly_bounded(replace(programme, content=np.array([[1.0, 0.0], [0.0, 0.0]])), switches, 1.0)


def test_no_formula_reaches_beyond() -> None:
    for seed in range(40):
        programme = replace(small(seed), measure="absolute")
        upper = reach(programme)
        amounts = linear.solve(programme).amounts
        if amounts is not None:
            # a column left out as harmful is not used either
            assert (amounts <= upper * (1 + 1e-9) + 1e-12).all()


def test_hopeless_without_any_search() -> None:
    for programme, hope in (
        (singles([0.5, 0.5]), True),
        (replace(singles([0.5, 0.5]), maximum=np.full(2, 4.0)), False),
        (limited(singles([0.5, 0.5]), -1.0), False),
        (limited(singles([0.5, 0.5]), -11.0, amounts=[-1.0, 0.0]), False),
        (limited(singles([0.5, 0.5]), -10.0, amounts=[-1.0, 0.0]), True),
    ):
        scaled = per_batch(programme)
        assert hopeless(scaled, switches_of(scaled)) is not hope


@pytest.mark.parametrize("measure", ["absolute", "worst"])
def test_no_formula_as_good_lies_beyond_what_its_value_leaves(measure: Measure) -> None:
    for seed in range(30):
        programme = per_batch(replace(small(seed), measure=measure))
        switches = switches_of(programme)
        amounts = np.random.default_rng(seed).dirichlet(np.full(len(programme.columns), 0.3))
        amounts /= programme.basis @ amounts
        left = within(programme, switches, programme.value(amounts))
        beyond = amounts > np.maximum(left.upper, programme.minimum) * (1 + 1e-9)
        assert not (beyond & (amounts <= switches.upper)).any()
        assert (left.upper <= switches.upper).all()


def test_per_batch_changes_no_value_and_no_verdict() -> None:
    for seed in range(20):
        programme = small(seed)
        scaled = per_batch(programme)
        amounts = np.random.default_rng(seed).uniform(0.0, programme.batch_g, len(programme.columns))
        assert scaled.value(amounts / programme.batch_g) == pytest.approx(programme.value(amounts))
        for row, other in zip(programme.limits, scaled.limits, strict=True):
            size = max(np.abs(other.amounts).max(), other.used.max(), abs(other.most))
            assert size == pytest.approx(1.0)
            left = row.most - row.amounts @ amounts
            assert np.sign(left) == np.sign(other.most - other.amounts @ amounts / programme.batch_g)


def test_fixed_pattern_keeps_only_what_is_on() -> None:
    programme = per_batch(limited(singles([0.5, 0.3, 0.2], 1.0), 2.0, used=[1.0, 1.0, 1.0]))
    switches = switches_of(programme)
    fixed, none, kept = with_pattern(programme, switches, np.array([True, False, True]))
    assert kept.tolist() == [0, 2]
    assert fixed.columns == ("stock 0", "stock 2")
    assert fixed.limits[0].most == pytest.approx(0.0)
    assert not none.switched.any()


def test_amounts_are_exact_at_their_ends() -> None:
    programme = replace(singles([0.5, 0.3, 0.2], [0.0, 1.0, 0.0]), maximum=np.array([8.0, np.inf, np.inf]))
    part = np.array([0.8 + 1e-11, 0.1 - 1e-11, 1e-13])
    assert spread_out(programme, np.arange(3), part).tolist() == [8.0, 1.0, 0.0]


def test_what_only_harms_is_in_reach_where_needless_columns_count() -> None:
    foreign = replace(singles([1.0, 0.0]), basis=np.array([1.0, 0.0]), maximum=np.array([np.inf, 3.0]))
    assert reach(foreign).tolist() == [10.0, 0.0]
    assert reach(foreign, needless=True).tolist() == [10.0, 3.0]


def test_what_one_limit_leaves_is_looked_at_by_the_next() -> None:
    # at most 2 g of x0, no more of x1 than of x0, no more of x2 than of x1: told in any order
    chain = singles([0.5, 0.3, 0.2])
    for most, amounts in ((0.0, [0.0, -1.0, 1.0]), (0.0, [-1.0, 1.0, 0.0]), (2.0, [1.0, 0.0, 0.0])):
        chain = limited(chain, most, amounts=amounts)
    assert reach(chain).tolist() == [2.0, 2.0, 2.0]
    # less than 1 g of the last cannot be weighed: it falls out, and what leans on it is left as it was
    assert reach(replace(chain, minimum=np.array([0.0, 0.0, 2.5]))).tolist() == [2.0, 2.0, 0.0]
