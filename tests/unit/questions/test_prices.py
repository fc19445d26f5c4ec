"""Prices of limits: what is said of a limit without it, and a little moved, is what solving again says."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.studies import study
from tests.tiny_study import CARRIER, GREEN, RED, tiny

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.contract import Budget
from reaccord.domain.settings import BalanceSettings
from reaccord.domain.study import Study
from reaccord.questions.prices.price import PART, LimitPrice, Step
from reaccord.questions.prices.run import Prices, prices
from reaccord.questions.sourcing import sourcing
from reaccord.report.prices import prices_data, prices_text
from reaccord.study.changed import with_amount, with_keys, with_settings, without_bottle
from reaccord.study.offered import offered

BOTTLES = (
    "material,constituent,purity,price_per_kg,stock_g\n"
    "Geraniol,geraniol,100,100,\nCitronellol,citronellol,100,20,\nLinalool,linalool,100,10,1\nNerol,nerol,100,60,"
)
TARGET = "constituent,G1\ngeraniol,50\ncitronellol,20\nlinalool,20\nnerol,10"


def made(**limits: object) -> Study:
    return study(target=TARGET, bottles=BOTTLES, settings={"limits": limits, "batch": {"accord_g": 10}})


def priced(asked: Study) -> tuple[Fit, Prices]:
    found = fit(asked)
    return found, prices(found, Budget())


def value(asked: Study) -> float:
    return fit(asked, shorten=False).judged_before.closeness.value


def test_the_cost_and_the_old_lot_are_priced_the_dearest_first() -> None:
    found, told = priced(made(cost_per_kg=40))
    by_kind = {price.kind: price for price in told.limits}
    assert {"cost", "on hand"} <= set(by_kind)
    assert [price.gain for price in told.limits] == sorted((price.gain for price in told.limits), reverse=True)
    cost, now = by_kind["cost"], found.judged_before.closeness.value
    free = value(made())
    assert cost.gain == pytest.approx(now - free, rel=0.01)
    assert cost.step is not None
    assert cost.step.limit > 40
    assert value(made(cost_per_kg=cost.step.limit)) <= now - PART * cost.gain * (1 - 0.02)
    smaller = 40 + 0.5 * (cost.step.limit - 40)
    assert value(made(cost_per_kg=smaller)) > now - PART * cost.gain


def test_a_smaller_batch_is_offered_where_a_lot_runs_short() -> None:
    found, told = priced(made())
    (batch,) = (price for price in told.limits if price.kind == "batch")
    assert batch.step is not None
    assert batch.step.limit < 10
    smaller = value(with_keys(found.study, "batch", accord_g=batch.step.limit))
    assert smaller < found.judged_before.closeness.value


def test_an_amount_asked_for_is_a_price_too() -> None:
    asked = with_amount(made(), "Nerol", at_least_g=4)
    found, told = priced(asked)
    (amount,) = (price for price in told.limits if price.kind == "amount at least")
    assert amount.subject == ("Nerol",)
    assert amount.gain == pytest.approx(found.judged_before.closeness.value - value(made()), rel=0.01)
    assert amount.step is not None
    assert amount.step.limit < 4


def test_a_limit_that_costs_nothing_is_not_listed() -> None:
    """The price stands exactly where the closest formula does."""
    free = fit(study(target=TARGET, bottles=BOTTLES.replace(",1\n", ",\n"), settings={"batch": {"accord_g": 10}}))
    cost = free.judged.totals.cost_per_kg
    assert cost is not None
    _, told = priced(
        study(target=TARGET, bottles=BOTTLES.replace(",1\n", ",\n"), settings={"limits": {"cost_per_kg": cost + 1e-6}})
    )
    assert all(price.gain > 0 for price in told.limits)
    assert "cost" not in {price.kind for price in told.limits}


def test_shorter_formulas_are_told_with_what_they_are_off() -> None:
    found, told = priced(made())
    assert [step.limit for step in told.shorter] == [3, 2]
    assert told.shorter[0].found.misplaced_share < told.shorter[1].found.misplaced_share
    text = prices_text(told, found.judged, 100)
    assert "3 lines instead of 4" in text
    assert "instead of" in text.splitlines()[0]
    rows = prices_data(told)["prices"]
    assert all(
        {"limit", "without", "step", "gain", "kind", "subject", "now", "end", "unit"} == set(row) for row in rows
    )


def test_without_time_the_limits_are_named_as_not_asked() -> None:
    found = fit(made(cost_per_kg=40))
    told = prices(found, Budget(seconds=1e-9))
    assert told.limits == told.shorter == ()
    assert "cost" in told.unasked
    assert "Not asked in the time given: cost" in prices_text(told, found.judged, 100)


def test_of_an_exact_amount_the_end_that_costs_is_priced() -> None:
    """Green is wanted at 4 g of 10 and held to 3: only that it may be no more costs anything."""
    _, found = priced(tiny(limits={"amount": [{"material": "Green", "exactly_g": 3}]}))
    assert [price.kind for price in found.limits] == ["amount at most"]


def test_no_dilutions_at_all_is_a_limit_too() -> None:
    """0.1 g of blue cannot be weighed neat, and none may be diluted."""
    blue = {"material": "Blue", "constituent": "blue", "purity": "100", "price_per_kg": "30"}
    asked = tiny(
        [RED, GREEN, blue, CARRIER],
        rows={"red": "60", "green": "39", "blue": "1"},
        balance={"readability_g": 0.001, "minimum_g": 0.2},
        dilutions={"strengths": ["10 %"], "carrier": "dipropylene glycol", "most": 0},
    )
    found, prices_found = priced(asked)
    assert found.reasons["blue"].sentence.startswith("held by the limit dilutions made")
    assert "dilutions" in [price.kind for price in prices_found.limits]


def test_what_fit_prints_is_what_a_row_stands_beside() -> None:
    found, told = priced(made(cost_per_kg=40))
    for price in told.limits:
        assert price.gain == pytest.approx(found.judged.closeness.value - price.without.value)
        assert price.gain > 0
    assert all(price.end is None for price in told.limits if price.kind not in {"batch", "dosage", "balance"})


def test_a_smaller_batch_goes_as_far_as_the_old_lot_lasts() -> None:
    """Linalool is a fifth of the target, and there is 1 g of it for 10 g."""
    _, told = priced(made())
    (batch,) = (price for price in told.limits if price.kind == "batch")
    assert batch.now == 10
    assert batch.end == 5
    assert batch.without.value == pytest.approx(0, abs=1e-9)


def test_the_balance_is_priced_by_one_ten_times_as_fine() -> None:
    blue = {"material": "Blue", "constituent": "blue", "purity": "100"}
    rows = {"red": "60", "green": "39.7", "blue": "0.3"}
    asked = tiny([RED, GREEN, blue], rows=rows, balance={"readability_g": 0.01, "minimum_g": 0.1})
    found, told = priced(asked)
    (balance,) = (price for price in told.limits if price.kind == "balance")
    assert (balance.now, balance.end, balance.step) == (0.01, 0.001, None)
    finer = fit(with_settings(asked, replace(asked.settings, balance=BalanceSettings(0.001, 0.01))))
    assert balance.without.value == pytest.approx(finer.judged.closeness.value, abs=1e-12)
    assert "a balance ten times as fine, to 0.001 g" in prices_text(told, found.judged, 100)


def test_a_fine_balance_is_no_row() -> None:
    _, told = priced(tiny(balance={"readability_g": 0.0001}, limits={"cost_per_kg": 20}))
    assert [price.kind for price in told.limits] == ["cost"]


def test_the_missing_source_that_helps_most_is_told() -> None:
    bottles = BOTTLES.replace("Citronellol,citronellol,100,20,\n", "").replace("\nNerol,nerol,100,60,", "")
    asked = study(target=TARGET, bottles=bottles, settings={"batch": {"accord_g": 10}})
    found, told = priced(asked)
    assert told.missing is not None
    assert told.missing.constituent == "citronellol"
    offer = sourcing(offered(asked)).ranked[0]
    assert offer.poured is not None
    assert told.missing.found.value == pytest.approx(offer.poured.judged.closeness.value, rel=0.01)
    assert "citronellol (not on the shelf)" in prices_text(told, found.judged, 100)
    assert prices_data(told)["missing"]["found"]["value"] == told.missing.found.value


def test_of_a_study_with_a_bottle_left_out_by_hand_the_missing_source_is_asked_too() -> None:
    asked = study(target=TARGET, bottles=BOTTLES.replace("\nNerol,nerol,100,60,", ""))
    _, told = priced(without_bottle(asked, asked.settled.bottles[0].key))
    assert told.missing is not None
    assert told.missing.constituent == "nerol"


def test_nothing_is_offered_where_nothing_is_missing() -> None:
    _, told = priced(made())
    assert told.missing is None


def test_the_figures_are_the_same_in_other_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    found = fit(made(cost_per_kg=40))
    alone = prices(found, Budget())
    monkeypatch.setattr("reaccord.questions.prices.run.WORTH", 0.0)
    seen: list[tuple[int, int]] = []
    assert prices(found, Budget(), workers=2, told=lambda done, of: seen.append((done, of))) == alone
    assert seen[-1][0] == seen[-1][1]


def test_an_interrupt_ends_the_questions_in_other_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    found = fit(made(cost_per_kg=40))
    monkeypatch.setattr("reaccord.questions.prices.run.WORTH", 0.0)
    asked: list[int] = []
    stop = lambda: len(asked) > 0  # noqa: E731
    told = prices(found, Budget(stop=stop), workers=2, told=lambda done, _: asked.append(done))
    assert len(told.unasked) > 1
    assert "what is not on the shelf" in told.unasked


def test_where_more_is_wrong_while_it_is_closer_that_is_said() -> None:
    found, told = priced(made(cost_per_kg=40))
    worse = replace(told.limits[0].without, misplaced_share=found.judged.closeness.misplaced_share + 0.1)
    odd = replace(told, limits=(replace(told.limits[0], without=worse),))
    assert "Closer is by the deviation" in prices_text(odd, found.judged, 100)


@pytest.mark.parametrize("measure", ["absolute", "worst"])
def test_other_measures_are_priced_too(measure: str) -> None:
    asked = tiny(limits={"cost_per_kg": 20}, fit={"measure": measure})
    found, told = priced(asked)
    (cost,) = told.limits
    assert cost.without.value == pytest.approx(0, abs=1e-6)
    assert cost.step is not None
    closer = fit(with_keys(asked, "limits", cost_per_kg=cost.step.limit))
    assert closer.judged.closeness.value == pytest.approx(cost.step.found.value, rel=0.01)
    assert closer.judged.closeness.value <= found.judged.closeness.value - PART * cost.gain * 0.99


def test_a_limit_is_written_in_all_its_figures() -> None:
    """0.1134 % is no 0.113 %: who writes that into a study gains less than is told."""
    found, told = priced(made(cost_per_kg=40))
    close = told.limits[0].without
    step = Step(0.001134, close)
    price = LimitPrice("restricted", ("R",), "Rule", "share", 0.00112, None, close, step, 0.1)
    odd = replace(told, limits=(price, replace(price, unit="per kg", now=88.0, step=Step(88.013, close))))
    text = prices_text(odd, found.judged, 100)
    assert "Rule 0.1134 instead of 0.112 %" in text
    assert "Rule 88.013 instead of 88.00 per kg" in text
