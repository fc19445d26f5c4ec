"""The sheet: order, tolerance, batches; equal strength. Reckoned by hand on red and green."""

from __future__ import annotations

import pytest
from tests.tiny_study import CARRIER, GREEN, RED, tiny

from reaccord.answer.judge import judge
from reaccord.balance.equal_strength import equal_strength
from reaccord.balance.sheet import rescaled, sheet
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import UsageError
from reaccord.report.weigh import weigh_text

BALANCE = {"readability_g": 0.001, "minimum_g": 0.02}
RED_KEY, GREEN_KEY = (StockKey(name, 1.0, "", "") for name in ("Red", "Green"))
CARRIER_KEY = StockKey("Carrier", 1.0, "", "")


def study_of(balance: dict[str, float | str] = BALANCE, **limits: float) -> Study:
    made = {"strengths": ["10 %", "1 %"], "carrier": "dipropylene glycol"}
    return tiny([RED | {"stock_g": "30"}, GREEN, CARRIER], balance=balance, dilutions=made, limits=limits)


def test_carriers_and_the_largest_first_strong_traces_last() -> None:
    weak = next(s.key for s in study_of().stocks if s.recipe and s.key.material == "Green" and s.key.strength == 0.01)
    amounts = {RED_KEY: 6.0, GREEN_KEY: 0.03, weak: 0.02, CARRIER_KEY: 1.0}
    found = sheet(study_of(), amounts)
    assert [line.stock.key for line in found.lines] == [CARRIER_KEY, RED_KEY, weak, GREEN_KEY]
    assert [line.running_g for line in found.lines] == pytest.approx([1.0, 7.0, 7.02, 7.05])
    assert sum(line.parts_per_thousand for line in found.lines) == pytest.approx(1000)
    turned = sheet(study_of(), amounts, first=[GREEN_KEY])
    assert [line.stock.key for line in turned.lines] == [GREEN_KEY, CARRIER_KEY, RED_KEY, weak]


@pytest.mark.parametrize(
    ("balance", "tolerances"),
    [
        ({"readability_g": 0.001, "minimum_g": 0.02}, [0.001, 0.001]),  # twice 0.41 steps
        ({"readability_g": 0.001, "repeatability_g": 0.004}, [0.008, 0.008]),
        ({"readability_g": 0.01, "tolerance": "1 %"}, [0.06, 0.04]),
        ({"readability_g": 0.1, "tolerance": "1 %"}, [0.1, 0.1]),
    ],
)
def test_the_tolerance_of_a_line(balance: dict[str, float | str], tolerances: list[float]) -> None:
    found = sheet(tiny(balance=balance), {RED_KEY: 6.0, GREEN_KEY: 4.0})
    assert [line.tolerance_g for line in found.lines] == tolerances


def test_what_a_line_off_by_its_tolerance_does() -> None:
    study = tiny(balance={"readability_g": 0.01, "tolerance": "1 %"})
    amounts = {RED_KEY: 6.0, GREEN_KEY: 4.0}
    red, _ = sheet(study, amounts).lines
    assert red.off is not None
    worse = max(judge(study, amounts | {RED_KEY: grams}).closeness.value for grams in (6.06, 5.94))
    assert red.off.change == pytest.approx(worse - judge(study, amounts).closeness.value)
    assert red.off.moved == pytest.approx(abs(5.94 / 9.94 - 0.6))


def test_what_its_tolerance_takes_over_a_limit_is_named() -> None:
    """Red may be 1.2 % of the product at 2 %, all that 60 % of the accord is: a little more of it is over."""
    rules = [{"rule": "Red", "kind": "each", "members": "red", "max": "1.2"}]
    study = tiny(balance=BALANCE, rules=rules)
    found = sheet(study, {RED_KEY: 6.0, GREEN_KEY: 4.0})
    breaks = {line.stock.key.material: line.off.breaks for line in found.lines if line.off}
    assert breaks == {"Red": ("Red",), "Green": ()}
    assert "Rather less than more of Red: Red is at its limit." in weigh_text(found, (), 100)


def test_the_smallest_batches() -> None:
    """Green is 0.5 % of 10 g: 0.05 g neat; 0.02 g can be weighed, so 4 g of accord, and of 1 % of it 100 times less."""
    found = sheet(study_of(), {RED_KEY: 9.95, GREEN_KEY: 0.05})
    assert found.neat.accord_g == pytest.approx(4.0)
    assert found.neat.decided_by.key == GREEN_KEY
    assert found.diluted.accord_g == pytest.approx(0.04)


def test_another_batch_has_the_same_parts() -> None:
    study, amounts = rescaled(study_of(), {RED_KEY: 9.0, GREEN_KEY: 1.0}, 5.0)
    assert amounts == {RED_KEY: 4.5, GREEN_KEY: 0.5}
    assert study.settings.batch.accord_g == 5.0


def test_a_batch_too_small_for_the_balance_says_which_is_not() -> None:
    with pytest.raises(UsageError, match=r"Green could not be weighed\. Take --accord-g 0\.2 or more"):
        rescaled(study_of(), {RED_KEY: 9.0, GREEN_KEY: 1.0}, 0.1)
    assert rescaled(study_of(), {RED_KEY: 9.0, GREEN_KEY: 1.0}, 0.2)[1][GREEN_KEY] == 0.02


def test_a_batch_that_takes_more_than_there_is() -> None:
    with pytest.raises(UsageError, match=r"takes 36 g of Red, 30 g are on hand\. Take --accord-g 33.3 or less"):
        rescaled(study_of(), {RED_KEY: 9.0, GREEN_KEY: 1.0}, 40.0)


def test_another_batch_holds_the_limits_that_the_formula_held() -> None:
    """A third of 10 g at cost 26: rounded to the nearest step it would be 26.04."""
    study = study_of(balance={"readability_g": 0.01}, cost_per_kg=26)
    amounts = {RED_KEY: 6.0, GREEN_KEY: 4.0}
    assert not judge(study, amounts).broken
    changed, scaled = rescaled(study, amounts, 3.33)
    assert not judge(changed, scaled).broken


def test_equal_strength_counts_the_carrier_inside() -> None:
    accord, reference = equal_strength({"accord": 0.5, "reference": 1.0}, 0.1, 5.0, 0.001)
    assert (accord.sample_g, accord.solvent_g, accord.strength) == (1.0, 4.0, pytest.approx(0.1))
    assert (reference.sample_g, reference.solvent_g) == (0.5, 4.5)
    coarse, _ = equal_strength({"accord": 0.86, "reference": 1.0}, 0.1, 5.0, 0.1)
    assert coarse.strength == pytest.approx(coarse.sample_g * 0.86 / (coarse.sample_g + coarse.solvent_g))


def test_a_sample_weaker_than_the_strength_wanted_is_refused() -> None:
    with pytest.raises(UsageError, match=r"the accord is only 5 % without its carrier"):
        equal_strength({"accord": 0.05, "reference": 1.0}, 0.1, 5.0, 0.001)
    with pytest.raises(UsageError, match="take larger vials"):
        equal_strength({"accord": 0.5, "reference": 1.0}, 0.1, 0.001, 0.001)
