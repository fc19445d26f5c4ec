"""A judgement reckoned by hand."""

from __future__ import annotations

import math

import pytest
from tests.tiny_study import CARRIER, GREEN, RED, tiny

from reaccord.answer.judge import Judgement, judge
from reaccord.domain.stock import StockKey

DPG = "dipropylene glycol"
RED_KEY, GREEN_KEY = StockKey("Red", 1.0, "", ""), StockKey("Green", 0.1, DPG, "")
BLUE_IN_RED = [{"material": "Red", "part": "blue", "share": "15"}]


def impure(scale: str = "equal", measure: str = "squares", **fit: str) -> Judgement:
    """Return the judgement of 10 g of Red (80 % red, 15 % blue, 5 % nobody knows) and 20 g of Green at a tenth.

    8 g red and 2 g green of the basis of 10 g; 1.5 g blue, 0.5 g undeclared, 18 g of carrier.
    """
    study = tiny(
        [RED | {"purity": "80"}, GREEN | {"strength": "10", "carrier": DPG, "price_per_kg": None}, CARRIER],
        compositions=BLUE_IN_RED,
        fit={"scale": scale, "measure": measure} | fit,
    )
    return judge(study, {RED_KEY: 10.0, GREEN_KEY: 20.0})


def test_totals() -> None:
    totals = impure().totals
    assert totals.named_g == pytest.approx(10)
    assert totals.foreign_g == pytest.approx(1.5)
    assert totals.undeclared_g == pytest.approx(0.5)
    assert totals.carrier_g == pytest.approx(18)
    assert totals.total_g == pytest.approx(30)


def test_money_counts_priced_lines_and_says_how_many_are_not() -> None:
    totals = impure().totals
    assert totals.cost == pytest.approx(0.1)
    assert totals.cost_per_kg == pytest.approx(1000 * 0.1 / 10)
    assert totals.cost_per_kg_concentrate == pytest.approx(1000 * 0.1 / 12)
    assert totals.unpriced_lines == 1


def test_no_price_at_all_is_no_cost() -> None:
    study = tiny([RED | {"price_per_kg": ""}, GREEN | {"price_per_kg": ""}])
    totals = judge(study, {stock.key: 5.0 for stock in study.stocks}).totals
    assert (totals.cost, totals.cost_per_kg, totals.unpriced_lines) == (None, None, 2)


def test_lines_are_sorted_and_share_the_carrier_free_mass() -> None:
    green, red = impure().lines
    assert (green.stock.key, red.stock.key) == (GREEN_KEY, RED_KEY)
    assert (green.share, red.share) == pytest.approx((2 / 12, 10 / 12))
    assert (green.cost, red.cost) == (None, pytest.approx(0.1))


def test_residuals_and_their_sources() -> None:
    rows = {residual.row.label: residual for residual in impure().residuals}
    assert {label: rows[label].achieved for label in rows} == pytest.approx(
        {"red": 0.8, "green": 0.2, "blue": 0.15, "undeclared": 0.05}
    )
    assert {label: rows[label].residual for label in rows} == pytest.approx(
        {"red": 0.2, "green": -0.2, "blue": 0.15, "undeclared": 0.05}
    )
    assert rows["red"].sources == (("Red", 1.0),)
    assert {label: rows[label].kind for label in rows} == {
        "red": "named",
        "green": "named",
        "blue": "foreign",
        "undeclared": "undeclared",
    }


@pytest.mark.parametrize(
    ("scale", "measure", "expected"),
    [
        ("equal", "squares", 0.04 + 0.04 + 0.0225 + 0.0025),
        ("equal", "absolute", 0.2 + 0.2 + 0.15 + 0.05),
        ("equal", "worst", 0.2),
        ("proportional", "squares", 0.04 / 0.6 + 0.04 / 0.4 + (0.0225 + 0.0025) / 0.05),
        ("relative", "worst", 0.15 / 0.05),
        ("relative", "absolute", 0.2 / 0.6 + 0.2 / 0.4 + 0.2 / 0.05),
    ],
)
def test_measures_and_scales(scale: str, measure: str, expected: float) -> None:
    assert impure(scale, measure).closeness.value == pytest.approx(expected)


def test_floors_are_read_from_the_study() -> None:
    found = impure("proportional", foreign_floor="10 %").closeness.value
    assert found == pytest.approx(0.04 / 0.6 + 0.04 / 0.4 + (0.0225 + 0.0025) / 0.1)


def test_misplaced_share_and_coverage_take_all_declared_odorant_as_the_whole() -> None:
    """11.5 g of odorant: red 8, green 2, blue 1.5."""
    closeness = impure().closeness
    assert closeness.misplaced_share == pytest.approx(0.5 * (8 / 11.5 - 0.6 + 0.4 - 2 / 11.5 + 1.5 / 11.5))
    assert closeness.coverage == pytest.approx(0.6 + 2 / 11.5)


def test_largest_is_unscaled_and_not_the_undeclared() -> None:
    assert impure("relative").closeness.largest == ("red", pytest.approx(0.2))


def test_a_band_counts_in_full_and_from_its_nearest_end() -> None:
    rows = [{"constituent": "red", "S": "60", "low": "50", "high": "70"}, {"constituent": "green", "S": "40"}]
    judged = judge(tiny(rows=rows, fit={"scale": "equal"}), {RED_KEY: 6.8, StockKey("Green", 1.0, "", ""): 3.2})
    assert judged.closeness.value == pytest.approx(0.08**2)
    assert judged.closeness.coverage == pytest.approx(0.68 + 0.32)


def test_open_rest_divides_by_every_declared_odorant() -> None:
    rows = [{"constituent": "red", "low": "40", "high": "60"}, {"constituent": "green", "low": "30", "high": "40"}]
    study = tiny([RED | {"purity": "80"}, GREEN], compositions=BLUE_IN_RED, rows=rows, target={"rest": "open"})
    judged = judge(study, {RED_KEY: 8.0, StockKey("Green", 1.0, "", ""): 2.4})
    achieved = {residual.row.label: residual.achieved for residual in judged.residuals}
    assert achieved["red"] == pytest.approx(6.4 / 10)
    assert achieved["all other constituents"] == pytest.approx(1.2 / 10)


def test_zeros_are_left_out_and_strangers_refused() -> None:
    study = tiny()
    green = StockKey("Green", 1.0, "", "")
    assert len(judge(study, {RED_KEY: 1.0, green: 0.0}).lines) == 1
    with pytest.raises(ValueError, match="not a stock of this study"):
        judge(study, {StockKey("Red", 0.5, "", ""): 1.0})
    with pytest.raises(ValueError, match="none of the target's constituents"):
        judge(tiny([RED, GREEN, CARRIER]), {StockKey("Carrier", 1.0, "", ""): 1.0})


def test_a_stock_set_aside_can_be_judged_and_is_said() -> None:
    study = tiny(limits={"exclude": ["Green"]})
    judged = judge(study, {RED_KEY: 6.0, StockKey("Green", 1.0, "", ""): 4.0})
    assert judged.closeness.value == pytest.approx(0)
    assert [state.label for state in judged.broken] == ["Green: excluded"]


def test_perfect_is_perfect() -> None:
    judged = judge(tiny(), {RED_KEY: 6.0, StockKey("Green", 1.0, "", ""): 4.0})
    assert judged.closeness.value == pytest.approx(0, abs=1e-30)
    assert judged.closeness.coverage == pytest.approx(1)
    assert not judged.broken
    assert math.isclose(judged.totals.cost_per_kg, 26.0)
