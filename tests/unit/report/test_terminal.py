"""The text people see, on studies small enough to know every figure."""

from __future__ import annotations

from dataclasses import replace

import pytest
from rich.cells import cell_len
from tests.tiny_study import CARRIER, GREEN, RED, tiny

from reaccord.answer.fit import Ended, fit
from reaccord.answer.judge import Judgement, judge
from reaccord.answer.why.reasons import reasons
from reaccord.contract import Budget
from reaccord.report.compare import Compared, compare_text
from reaccord.report.data import fit_data
from reaccord.report.terminal import fit_text
from reaccord.study.load import Study

WIDE = 120


def compared(study: Study, grams: dict[str, float], width: int = WIDE) -> str:
    judged = judged_of(study, grams)
    return compare_text([Compared("mine.csv", study, judged, reasons(study, judged, optimised=False))], width)


def judged_of(study: Study, grams: dict[str, float]) -> Judgement:
    return judge(study, {stock.key: grams.get(stock.key.material, 0.0) for stock in study.stocks})


def test_a_formula_that_is_the_target() -> None:
    text = fit_text(fit(tiny(balance={"readability_g": 0.01})), WIDE)
    assert text.splitlines()[:7] == [
        "drawn",
        "The closest formula these 2 bottles allow, proven: 0.0 % of it is the wrong substance.",
        "",
        "Pour         g  ‰ neat   cost  lot",
        "Green     4.00   400.0  0.200",
        "Red       6.00   600.0  0.060",
        "2 lines  10.00  1000.0  0.260",
    ]
    assert "Cost 26.00 per kg of accord, 26.00 per kg of all that is no carrier." in text, "40 % at 50 and 60 % at 10"
    assert "Each of the 3 rows is within 0.3 points." in text, "no row of a deviation that is none"
    assert "No limits are set." in text
    assert "Deviation" not in text


def test_what_is_off_and_by_how_much() -> None:
    lines = compared(tiny(), {"Red": 8, "Green": 2}).splitlines()
    assert lines[1] == "This formula: 20.0 % of it is the wrong substance. It holds every limit."
    table = lines[lines.index("2 lines  10.0000  1000.0  0.180") + 3 :]
    assert table[0].split() == ["Off", "the", "target", "target", "got", "why"]
    assert table[1].startswith("green           40.00 %  20.00 %  ━━━━━━━━━━┤            more of Green would mend it")
    assert table[2].startswith("red             60.00 %  80.00 %            ├━━━━━━━━━━  ")
    assert table[3] == "1 more row within 0.00 points."


@pytest.mark.parametrize(
    ("grams", "said"), [(10, ""), (10.09, ""), (11, " It makes 11 g instead of 10 g."), (0.01, " It makes 0.01 g")]
)
def test_a_formula_for_another_batch_says_so(grams: float, said: str) -> None:
    verdict = compared(tiny(), {"Red": 0.8 * grams, "Green": 0.2 * grams}).splitlines()[1]
    assert verdict.partition("It holds every limit.")[2].startswith(said)
    assert bool(said) == verdict.endswith("instead of 10 g.")


def test_reasons_stand_beneath_where_there_is_no_room_beside() -> None:
    lines = compared(tiny(), {"Red": 8, "Green": 2}, 70).splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith("green"))
    assert lines[at + 1] == "  more of Green would mend it"
    assert "why" not in lines[at - 1]


@pytest.mark.parametrize("width", [1, 20, 45, 60, 80, 120, 300])
def test_no_number_is_cut_at_any_width(width: int) -> None:
    study = tiny([RED | {"lot": "R-1"}, GREEN], limits={"cost_per_kg": 20, "lines": 1})
    text = compared(study, {"Red": 8.1234, "Green": 1.8766}, width)
    for number in ("8.1234", "812.3", "0.081", "1.8766", "187.7", "81.23 %", "18.77 %", "17.51", "20.00"):
        assert number in text
    if width >= 60:
        assert max(map(cell_len, text.splitlines())) <= width


def test_broken_limits_come_first_and_are_counted() -> None:
    study = tiny([RED, GREEN], limits={"cost_per_kg": 20, "lines": 1}, batch={"carrier_max_g": 5})
    lines = compared(study, {"Red": 5, "Green": 5}).splitlines()
    assert lines[1].endswith("It breaks 2 limits: cost, lines.")
    at = next(number for number, line in enumerate(lines) if line.startswith("Limit"))
    assert lines[at + 1].split() == ["cost", "30.00", "20.00", "per", "kg", "BROKEN"]
    assert lines[at + 2].split() == ["lines", "2", "1", "BROKEN"]
    assert lines[at + 3].split() == ["carrier", "0.000", "5.000", "g"]
    points = {line.index(".") for line in (lines[at + 1], lines[at + 3])}
    assert len(points) == 1, "points below each other"


def test_one_limit_broken_is_one_limit() -> None:
    text = compared(tiny(limits={"lines": 1}), {"Red": 5, "Green": 5})
    assert "It breaks 1 limit: lines." in text


def test_a_limit_that_binds_says_so() -> None:
    found = fit(tiny(limits={"cost_per_kg": 20}, balance={"readability_g": 0.001}))
    (line,) = (line for line in fit_text(found, WIDE).splitlines() if line.startswith("cost"))
    assert line.endswith("holds it back")


def test_prices_that_nobody_knows() -> None:
    unpriced = {**GREEN, "price_per_kg": ""}
    text = compared(tiny([RED, unpriced]), {"Red": 6, "Green": 4})
    assert (
        "Cost 6.00 per kg of accord, 6.00 per kg of all that is no carrier, 1 line without a price not counted." in text
    )
    assert " ?" in next(line for line in text.splitlines() if line.startswith("Green"))
    assert "No line has a price." in compared(tiny([{**RED, "price_per_kg": ""}, unpriced]), {"Red": 6, "Green": 4})


def test_dilutions_are_named_in_full() -> None:
    thin = RED | {"strength": "10", "carrier": "dipropylene glycol"}
    text = compared(tiny([thin, GREEN, CARRIER]), {"Red": 60, "Green": 4})
    assert "Red, 10 % in dipropylene glycol" in text
    made = fit(tiny([RED, GREEN, CARRIER], dilutions={"strengths": ["10 %"], "carrier": "dipropylene glycol"}))
    lines = fit_text(made, WIDE).splitlines()
    assert any("to be made" in line for line in lines) == any(
        s.recipe for s in made.study.stocks if s.key in made.amounts
    )


def test_a_range_table_has_no_published_sum() -> None:
    rows = [{"constituent": "red", "low": "50", "high": "70"}, {"constituent": "green", "low": "30", "high": "50"}]
    text = compared(tiny(rows=rows, target={"rest": "open"}), {"Red": 9, "Green": 1})
    assert "50.00 to 70.00 %" in text
    assert "Target: the ranges of the table." in text
    assert "published sum" not in text


def test_not_proven_is_said_in_the_verdict() -> None:
    found = fit(tiny(limits={"cost_per_kg": 20}, balance={"readability_g": 0.001}))
    open_ = replace(found, answer=replace(found.answer, status="feasible", bound=found.bound / 2))
    assert (
        fit_text(open_, WIDE)
        .splitlines()[1]
        .startswith("The best formula found with these 2 bottles, not proven: another may be up to 50 % closer. ")
    )


def test_the_same_verdict_for_a_gap_that_was_left() -> None:
    found = fit(tiny(limits={"cost_per_kg": 20}, balance={"readability_g": 0.001}), Budget(gap=0.5))
    left = replace(found, answer=replace(found.answer, bound=found.judged_before.closeness.value * 0.9))
    assert "proven within 10 %: " in fit_text(left, WIDE)


@pytest.mark.parametrize(
    ("ended", "said"),
    [
        ("", "The best formula found with these 2 bottles, not proven"),
        ("time", "The best formula found in the time given with these 2 bottles, not proven"),
        ("interrupted", "Interrupted. The best formula found until then with these 2 bottles, not proven"),
    ],
)
def test_what_ended_a_search_is_said_in_the_verdict(ended: Ended, said: str) -> None:
    found = fit(tiny(limits={"cost_per_kg": 20}, balance={"readability_g": 0.001}))
    cut = replace(found, answer=replace(found.answer, status="feasible"), ended=ended)
    assert fit_text(cut, WIDE).splitlines()[1].startswith(said)


def test_rules_and_cautions() -> None:
    rule = {"rule": "Reds", "members": "red", "max": "1", "kind": "each", "cautions": "skin"}
    study = tiny(rules=[rule | {"edition": "3", "date": "2026-01-15"}, rule | {"rule": "Greens", "members": "green"}])
    text = compared(study, {"Red": 6, "Green": 4})
    assert "Rules for soap at 2 %: house rule (invented); house rule (invented), edition 3, 2026-01-15." in text
    assert "Some of these substances irritate or sensitise skin" in text
    assert "Calculated, not analysed" in text


def test_small_shares_keep_their_digits() -> None:
    rows = {"red": "60", "green": "39.995", "blue": "0.005"}
    blue = {"material": "Blue", "constituent": "blue", "purity": "100", "price_per_kg": "1"}
    text = compared(
        tiny([RED, GREEN, blue], rows=rows, fit={"scale": "relative"}), {"Red": 6, "Green": 4, "Blue": 0.01}
    )
    assert " 0.0050 % " in next(line for line in text.splitlines() if line.startswith("blue"))


def test_what_is_proven_is_told_apart_from_the_rounding() -> None:
    coarse = {"readability_g": 1}
    found = fit(
        tiny((RED | {"stock_g": "1"}, GREEN), rows={"red": "60", "green": "40"}, batch={"accord_g": 3}, balance=coarse)
    )
    assert found.judged.closeness.value < found.bound, "1 g and 1 g, 2 g together, are closer than 1 g and 2 g"
    text = " ".join(fit_text(found, WIDE).split())
    assert "proven before rounding: 10.0 % of it is the wrong substance." in text
    assert f"Deviation {found.judged_before.closeness.value:.6g} (squares, proportional)" in text
    assert "for exactly 3 g of the target's constituents, before rounding." in text
    assert "86 % less, as it makes 2 g instead of 3 g. Rounding is a search, not a proof." in text
    assert "within" not in text.split("Deviation")[1]


def test_rounding_that_costs_little_says_how_little() -> None:
    text = fit_text(fit(tiny((RED,), balance={"readability_g": 0.01})), WIDE)
    assert "The closest formula this bottle allows, proven: 40.0 %" in text
    assert ", 0.0001 % more.\n" in text
    assert "Rounding is a search" not in text


def test_no_price_at_all_is_no_cost_of_nothing() -> None:
    free = [{**bottle, "price_per_kg": ""} for bottle in (RED, GREEN)]
    found = fit(tiny(free))
    assert fit_text(found, WIDE).splitlines()[6].split() == ["2", "lines", "10.0000", "1000.0", "?"]
    totals = fit_data(found)["totals"]
    assert (totals["cost"], totals["cost_per_kg"], totals["unpriced_lines"]) == (None, None, 2)


def test_a_given_formula_is_shown_as_it_was_given() -> None:
    text = compared(tiny(balance={"readability_g": 0.01}), {"Red": 5.99995, "Green": 4.001})
    poured = [line.split()[:2] for line in text.splitlines()[5:7]]
    assert poured == [["Green", "4.00100"], ["Red", "5.99995"]]
    assert "BROKEN" in text
    assert "0.00005" in text, "the step is missed by so much"


def test_a_bar_is_short_where_little_is_off() -> None:
    lines = compared(tiny(), {"Red": 6.001, "Green": 3.999}).splitlines()
    assert not [line for line in lines if "━━━━" in line]


def test_what_is_alike_in_the_digits_shown_does_not_look_off() -> None:
    """All of the deviation is in these two rows, and none of it can be seen."""
    text = compared(tiny(), {"Red": 6.0001, "Green": 3.9999})
    assert "Each of the 3 rows is within 0.3 points." in text


def test_whole_steps_of_bottles_are_rounded_to_without_a_balance() -> None:
    text = fit_text(fit(tiny([RED | {"step_g": "0.7"}, GREEN | {"step_g": "0.9"}])), WIDE)
    assert "before rounding.\nRounded to whole steps: " in text
