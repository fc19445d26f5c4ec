"""Spread of a formula, reckoned by hand where that goes; all data invented."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.tiny_study import GREEN, OIL, OIL_PARTS, RED, tiny

from reaccord.answer.fit import fit
from reaccord.contract import Budget
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.study import Study
from reaccord.findings import UsageError
from reaccord.questions.spread.draws import Outcome, Trials, lots_of
from reaccord.questions.spread.spread import Spread, spread
from reaccord.questions.spread.variation import Variation
from reaccord.questions.spread.watched import Watched

SHELF = (RED, GREEN, OIL)
FINE = Budget(1e-8)


def all_oil(study: Study, grams: float = 10.0) -> dict[Any, float]:
    return {stock.key: grams for stock in study.stocks if stock.key.material == "Oil"}


def of_oil(draws: int = 20_000, seed: int = 1, **sections: Any) -> Spread:
    study = tiny(SHELF, compositions=OIL_PARTS, **sections)
    return spread(study, all_oil(study), draws, seed)


def share_of(outcome: Outcome, label: str) -> float:
    (share,) = [found.share for found in outcome.broken if found.label == label]
    return share


def test_quantiles_of_a_triangle() -> None:
    """Red is triangular (50, 60, 70 %): its 5 % quantile is 50 + sqrt(0.05 * 20 * 10) = 53.16 %."""
    found = of_oil(draws=100_000)
    low, middle, high = found.outcome.residuals[:, [r.row.label for r in found.outcome.judged.residuals].index("red")]
    assert low == pytest.approx(-0.1 + np.sqrt(0.05 * 0.2 * 0.1), abs=5e-4)
    assert (middle, high) == pytest.approx((0.0, 0.1 - np.sqrt(0.05 * 0.2 * 0.1)), abs=1e-3)


def test_expected_deviation_by_hand() -> None:
    """Variance of the triangle is 0.1^2 / 6; scale proportional divides by the share, 0.6."""
    found = of_oil()
    assert found.expected == pytest.approx(0.01 / 6 / 0.6)
    # the undeclared mass has the band [0, 0] here and is no share row: what it loses is not below 0
    undeclared = 0.1**2 / 6 / 2 / 0.05
    assert found.outcome.mean == pytest.approx(0.01 / 6 / 0.6 + undeclared, rel=0.05)


def test_the_same_seed_gives_the_same_figures() -> None:
    first, again, other = of_oil(500), of_oil(500), of_oil(500, 2)
    assert np.array_equal(first.outcome.deviations, again.outcome.deviations)
    assert not np.array_equal(first.outcome.deviations, other.outcome.deviations)


def test_how_often_a_limit_is_broken() -> None:
    """At a dosage of 2 % a limit of 1.3 % asks for at most 65 % red: the triangle is above that in 1 of 8 draws."""
    rules = [{"rule": "Red", "kind": "each", "members": "red", "max": "1.3"}]
    study = tiny(SHELF, compositions=OIL_PARTS, rules=rules, limits={"undeclared": "2 %"})
    found = spread(study, all_oil(study), 40_000)
    assert share_of(found.outcome, "Red") == pytest.approx(0.125, abs=0.01)
    # undeclared is above 2 % where red is below 58 %: (0.08 / 0.1)^2 / 2
    assert share_of(found.outcome, "undeclared") == pytest.approx(0.32, abs=0.01)


def test_a_rule_on_a_material_counts_the_material_inside_blends() -> None:
    blend = [
        {"material": "Base", "part": "Oil", "share": "50", "low": "40", "high": "60", "part_kind": "material"},
        {"material": "Base", "part": "Green", "share": "50", "part_kind": "material"},
    ]
    rules = [{"rule": "Oil", "kind": "each", "members": "Oil", "max": "1"}]
    study = tiny([*SHELF, {"material": "Base"}], compositions=[*OIL_PARTS, *blend], rules=rules)
    (base,) = [stock.key for stock in study.stocks if stock.key.material == "Base"]
    assert share_of(spread(study, {base: 10.0}, 40_000).outcome, "Oil") == pytest.approx(0.5, abs=0.01)


def test_limits_that_cannot_vary_are_held_or_not() -> None:
    study = tiny(SHELF, compositions=OIL_PARTS, limits={"lines": 1, "cost_per_kg": 15})
    broken = spread(study, all_oil(study), 100).outcome.broken
    assert broken == ((LimitKey("cost"), "cost", 1.0), (LimitKey("lines"), "lines", 0.0))


def test_lots_of_the_target_are_drawn_too() -> None:
    rows = [
        {"constituent": "red", "A": "50", "B": "70"},
        {"constituent": "green", "A": "50", "B": "30"},
    ]
    study = tiny([RED, GREEN], rows=rows)
    lots = lots_of(study)
    assert lots is not None
    labels = [row.label for row in study.target.rows]
    assert lots[:, labels.index("red")] == pytest.approx([0.5, 0.7])
    found = fit(study)
    moved = spread(study, found.amounts, 20_000)
    assert moved.lots == 2
    assert moved.expected == pytest.approx(0.01 / 0.6 + 0.01 / 0.4)
    assert moved.outcome.mean == pytest.approx(moved.expected)
    low, _, high = moved.outcome.residuals[:, labels.index("red")]
    assert (low, high) == pytest.approx((-0.1, 0.1))
    assert lots_of(tiny([RED, GREEN], rows=rows, target={"samples": ["A"]})) is None
    assert lots_of(tiny([RED, GREEN], rows=rows, target={"combine": "band"})) is None


def test_the_robust_formula_leaves_what_varies() -> None:
    """The oil is exactly the target as stated and free; red and green never vary."""
    free = OIL | {"price_per_kg": "1"}
    study = tiny((RED, GREEN, free), compositions=OIL_PARTS)
    found = spread(study, all_oil(study), 2_000, robust=True, budget=FINE)
    assert found.compared is not None
    assert found.compared.expected == pytest.approx((0.01 / 6 / 0.6, 0.0), abs=1e-6)
    assert {line.stock.key.material for line in found.compared.robust.judged.lines} >= {"Red", "Green"}
    assert found.compared.gain > 10 * found.compared.standard_error


def held(hold: float) -> Spread:
    """Red is restricted to what the oil's typical share makes: at its highest share less of the oil may be used."""
    rules = [{"rule": "Red", "kind": "each", "members": "red", "max": "1.21"}]
    study = tiny((OIL, GREEN), compositions=OIL_PARTS, rules=rules, balance={"readability_g": 0.001})
    return spread(study, fit(study).amounts, 20_000, robust=True, hold=hold, budget=FINE)


def test_restricted_limits_in_part_of_the_draws() -> None:
    whole, part = held(1.0).compared, held(0.9).compared
    assert whole is not None
    assert part is not None
    assert share_of(whole.robust, "Red") == 0
    assert 0.03 < share_of(part.robust, "Red") <= 0.105
    assert part.expected[1] < whole.expected[1]


def test_nothing_varies() -> None:
    study = tiny([RED, GREEN])
    found = spread(study, fit(study).amounts, 100, robust=True)
    assert (found.varied, found.outcome.standard_error) == (0, 0.0)
    assert found.expected == pytest.approx(0, abs=1e-12)


def test_an_open_rest_divides_by_the_whole_basis() -> None:
    rows = [{"constituent": "red", "low": "50", "high": "60"}]
    study = tiny(SHELF, compositions=OIL_PARTS, rows=rows, target={"table": "target.csv", "rest": "open"})
    amounts = all_oil(study)
    trials = Trials(Watched(study, Variation(study), amounts), 50, 1, 0)
    found = trials.residuals(trials.quantities(amounts), 10.0)
    assert np.abs(found[:, [r.label for r in study.target.rows].index("red")]).max() <= 0.1


def test_what_cannot_be_done_is_said() -> None:
    study = tiny([RED, GREEN], fit={"measure": "worst"})
    with pytest.raises(UsageError, match="squares only"):
        spread(study, fit(study).amounts, 10, robust=True)
    aside = tiny(SHELF, compositions=OIL_PARTS, limits={"exclude": ["Oil"]})
    (oil,) = [item.stock.key for item in aside.set_aside]
    assert spread(aside, {oil: 10.0}, 100).expected is None
    with pytest.raises(UsageError, match="Oil is set aside"):
        spread(aside, {oil: 10.0}, 100, robust=True)
    with pytest.raises(UsageError, match="--draws can be at most"):
        spread(study, fit(study).amounts, 10**9)
