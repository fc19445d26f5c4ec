"""Red costs 10 and green 50 per kg, 60 to 40 are wanted: `r` of red costs `50 - 40 r` and is `r - 0.6` off, twice."""

from __future__ import annotations

from typing import Any

import pytest
from tests.tiny_study import GREEN, RED, tiny

from reaccord.answer.fit import fit
from reaccord.contract import Budget
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoFormula
from reaccord.questions.cheapest import Within, changes, cheapest, spoilt

BALANCE = {"readability_g": 0.01, "minimum_g": 0.05}
ALLOWED = {"squares": 0.02, "absolute": 0.2, "worst": 0.1}


def made(measure: str = "squares", **more: Any) -> Study:
    return tiny(fit={"measure": measure, "scale": "equal"}, **more)


@pytest.mark.parametrize("measure", ALLOWED)
def test_the_cheapest_by_hand(measure: str) -> None:
    found = cheapest(made(measure), Within(ALLOWED[measure]), Budget(gap=1e-5))
    assert found.status == "proven"
    assert found.before == pytest.approx(22, rel=2e-5)
    assert found.bound <= 22 * (1 + 1e-9)
    assert found.bound >= 22 * (1 - 2e-5)
    assert found.judged_before.closeness.value <= ALLOWED[measure] * (1 + 1e-8)
    assert found.saved_per_kg == pytest.approx(4, rel=1e-3)


def test_what_was_replaced_saved_and_spoilt() -> None:
    found = cheapest(made(balance=BALANCE), Within(0.02))
    red, green = sorted(changes(found), key=lambda change: change.material, reverse=True)
    assert (red.material, red.from_g, red.to_g) == ("Red", 6.0, pytest.approx(7, abs=0.02))
    assert (green.material, green.from_g, green.to_g) == ("Green", 4.0, pytest.approx(3, abs=0.02))
    assert red.saved + green.saved == pytest.approx(found.closest.judged.totals.cost - found.judged.totals.cost)
    assert changes(found)[0] == green
    assert {row.constituent: row.residual for row in spoilt(found)} == {
        "red": pytest.approx(0.1, abs=2e-3),
        "green": pytest.approx(-0.1, abs=2e-3),
    }
    assert all(row.residual_before == pytest.approx(0, abs=1e-9) for row in spoilt(found))


def test_a_percentage_is_above_the_closest_as_it_can_be_weighed() -> None:
    study = made(rows={"red": "55", "green": "35", "blue": "10"}, balance={"readability_g": 0.5})
    closest = fit(study).judged.closeness.value
    found = cheapest(study, Within(above=0.25))
    assert found.within == pytest.approx(1.25 * closest)
    assert found.judged.closeness.value <= found.within or found.over


def test_the_grid_keeps_limits_and_the_deviation() -> None:
    found = cheapest(made(balance=BALANCE), Within(0.02))
    assert not found.over
    assert found.judged.closeness.value <= 0.02 * (1 + 1e-9)
    assert all(grams == round(grams, 2) for grams in found.amounts.values())
    assert not found.judged.broken


def test_a_grid_too_coarse_for_the_deviation_is_said() -> None:
    """52 to 48 in whole grams is 5 to 5: nothing on the grid is nearer."""
    found = cheapest(made(balance={"readability_g": 1}, rows={"red": "52", "green": "48"}), Within(0.0001))
    assert found.over
    assert found.judged.closeness.value > 0.0001


def test_the_closest_itself_where_nothing_may_be_lost() -> None:
    found = cheapest(made(), Within(above=0.0), Budget(gap=1e-4))
    assert found.before == pytest.approx(26, rel=2e-3)  # a deviation of 1e-9 counts as none
    assert found.status == "proven"


def test_its_own_cost_limit_stays() -> None:
    found = cheapest(made(limits={"cost_per_kg": 24}), Within(above=0.5))
    assert found.closest.judged.totals.cost_per_kg == pytest.approx(24)
    assert found.before < 24


def test_closer_than_the_closest_is_impossible() -> None:
    study = made(limits={"cost_per_kg": 22})
    with pytest.raises(NoFormula, match=r"No formula inside the limits has a deviation of 0\.01 or less; .* 0\.02\."):
        cheapest(study, Within(0.01))


def test_every_bottle_needs_a_price() -> None:
    with pytest.raises(InvalidInput, match="cost is minimised"):
        cheapest(tiny((RED, GREEN | {"price_per_kg": None})), Within(0.02))


def test_stopped_it_says_what_it_has() -> None:
    """One formula is found on the way in; nothing is proven and nothing false is said."""
    found = cheapest(made(), Within(0.02), Budget(stop=lambda: True))
    assert found.status == "feasible"
    assert found.bound <= 22 <= found.before + 1e-9
    assert found.gap > 1e-3
