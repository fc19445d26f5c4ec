"""The text people see, on studies small enough to know every figure."""

from __future__ import annotations

from dataclasses import replace

import pytest
from rich.cells import cell_len
from tests.studies import study
from tests.tiny_study import CARRIER, GREEN, RED, tiny

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Ended
from reaccord.answer.judge import Judgement, judge
from reaccord.answer.why.reasons import reasons
from reaccord.contract import NEARLY_ZERO, Budget
from reaccord.domain.study import Study
from reaccord.report.compare import Compared, compare_text
from reaccord.report.data import fit_data
from reaccord.report.terminal import fit_text

WIDE = 120
MORE = "3.3 g more of Green would bring it; nothing holds that back"


def compared(study: Study, grams: dict[str, float], width: int = WIDE) -> str:
    judged = judged_of(study, grams)
    return compare_text([Compared("mine.csv", study, judged, reasons(study, judged, optimised=False))], width)


def judged_of(study: Study, grams: dict[str, float]) -> Judgement:
    return judge(study, {stock.key: grams.get(stock.key.material, 0.0) for stock in study.stocks})


def test_a_formula_that_is_the_target() -> None:
    text = fit_text(fit(tiny(balance={"readability_g": 0.01})), WIDE)
    assert text.splitlines()[:6] == [
        "drawn: 0.0 % wrong, 0.0 % unnamed; nothing closer can be poured from these 2 bottles.",
        "",
        "Pour         g  ‰ neat   cost  lot",
        "Green     4.00   400.0  0.200",
        "Red       6.00   600.0  0.060",
        "2 lines  10.00  1000.0  0.260",
    ]
    assert "Cost 26.00 per kg of accord, 26.00 per kg of all that is no carrier." in text, "40 % at 50 and 60 % at 10"
    assert "Each of the 3 rows is within 0.01 points." in text, "no row of a deviation that is none"
    assert "No limits are set." in text
    assert "Deviation" not in text


def test_what_is_off_and_by_how_much() -> None:
    lines = compared(tiny(), {"Red": 8, "Green": 2}).splitlines()
    assert lines[0] == "drawn: 20.0 % wrong, 0.0 % unnamed; this formula holds every limit."
    table = lines[lines.index("2 lines  10.0000  1000.0  0.180") + 3 :]
    assert table[0].split() == ["What", "counts", "most", "target", "%", "got", "%", "points", "why"]
    assert table[1] == "green                40.00  20.00  -20.00  ━━━━━━━━━━  " + MORE
    assert table[2] == "red                  60.00  80.00  +20.00  ━━━━━━━     comes with Red", (
        "0.04 / 0.6 after 0.04 / 0.4"
    )
    assert table[3] == "1 more row counts for less than 2 %."


def test_the_bars_are_of_what_counts() -> None:
    """A small row counts more than a large one that is as far off: 1 point of 2 %, 1 point of 98 %."""
    lines = compared(tiny(rows={"red": "98", "green": "2"}), {"Red": 9.7, "Green": 0.3}).splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith("What counts most"))
    green, red = lines[at + 1 : at + 3]
    assert green.startswith("green")
    assert "+1.00  ━━━━━━━━━━" in green
    assert red.startswith("red")
    assert "-1.00  ━  " in red


def test_rows_that_count_little_are_summed() -> None:
    names = [f"c{number:02}" for number in range(20)]
    bottles = [{"material": name.upper(), "constituent": name, "purity": "100", "price_per_kg": "1"} for name in names]
    study = tiny(bottles, rows=dict.fromkeys(names, "5"))
    grams = {name.upper(): 0.5 + (0.4 if number == 0 else 0.02 * (-1) ** number) for number, name in enumerate(names)}
    text = compared(study, grams)
    lines = text.splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith("What counts most"))
    assert lines[at + 1].startswith("c00")
    assert lines[at + 4].startswith("18 more rows count for ")
    assert lines[at + 4].endswith(" % together.")


@pytest.mark.parametrize(
    ("grams", "said"), [(10, ""), (10.09, ""), (11, " It makes 11 g instead of 10 g."), (0.01, " It makes 0.01 g")]
)
def test_a_formula_for_another_batch_says_so(grams: float, said: str) -> None:
    verdict = compared(tiny(), {"Red": 0.8 * grams, "Green": 0.2 * grams}).splitlines()[0]
    assert verdict.partition("holds every limit.")[2].startswith(said)
    assert bool(said) == verdict.endswith("instead of 10 g.")


def test_reasons_stand_below_where_there_is_no_room_beside() -> None:
    lines = compared(tiny(), {"Red": 8, "Green": 2}, 70).splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith("What counts most"))
    assert "why" not in lines[at]
    assert lines[at + 4 : at + 7] == [
        "",
        f"green: {MORE}",
        "red: comes with Red",
    ]


def test_a_reason_of_several_rows_is_said_once() -> None:
    rows = {"red": "60", "green": "20", "blue": "20"}
    text = compared(tiny(rows=rows, bottles=(RED,)), {"Red": 10}, 60)
    assert "\nblue, green: no bottle holds it\n" in text


def test_no_name_is_broken_inside_a_word() -> None:
    name = "10-epi-gamma-" + "eudesmol" * 2
    bottles = [RED | {"material": f"Fraction of {name}", "constituent": name, "lot": "Lot-2024-11-A"}, RED]
    for width in (80, 120):
        text = compared(tiny(bottles, rows={"red": "60", name: "40"}), {"Red": 8, f"Fraction of {name}": 2}, width)
        assert sum(name in line for line in text.splitlines()) >= 2
        assert max(map(cell_len, text.splitlines())) <= width


@pytest.mark.parametrize("width", [1, 20, 45, 60, 80, 120, 300])
def test_no_number_is_cut_at_any_width(width: int) -> None:
    study = tiny([RED | {"lot": "R-1"}, GREEN], limits={"cost_per_kg": 20, "lines": 1})
    text = compared(study, {"Red": 8.1234, "Green": 1.8766}, width)
    for number in ("8.1234", "812.3", "0.081", "1.8766", "187.7", "81.23", "18.77", "17.51", "20.00"):
        assert number in text
    if width >= 60:
        assert max(map(cell_len, text.splitlines())) <= width


def test_broken_limits_come_first_and_are_counted() -> None:
    study = tiny([RED, GREEN], limits={"cost_per_kg": 20, "lines": 1}, batch={"carrier_max_g": 5})
    lines = compared(study, {"Red": 5, "Green": 5}).splitlines()
    assert lines[0].endswith("this formula breaks 2 limits: cost, lines.")
    at = next(number for number, line in enumerate(lines) if line.startswith("Limit"))
    assert lines[at + 1].split() == ["cost", "30.00", "20.00", "per", "kg", "BROKEN"]
    assert lines[at + 2].split() == ["lines", "2", "1", "BROKEN"]
    assert lines[at + 3].split() == ["carrier", "0.000", "5.000", "g"]
    points = {line.index(".") for line in (lines[at + 1], lines[at + 3])}
    assert len(points) == 1, "points below each other"


def test_one_limit_broken_is_one_limit() -> None:
    text = compared(tiny(limits={"lines": 1}), {"Red": 5, "Green": 5})
    assert "this formula breaks 1 limit: lines." in text


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


def test_where_there_is_little_room_the_one_carrier_of_dilutions_is_said_below() -> None:
    made = study(
        target="constituent,G1\ngeraniol,60\ncitronellol,40",
        bottles="material,constituent,purity,strength,carrier\nGeraniol,geraniol,100,,\n"
        "Citronellol of the garden,citronellol,100,10,DPG\nDPG,dipropylene glycol,100,,\n",
    )
    lines = compared(made, {"Geraniol": 6, "Citronellol of the garden": 40}, width=60).splitlines()
    assert any(line.startswith("Citronellol of the garden, 10 %  ") for line in lines)
    assert "The dilutions are in dipropylene glycol." in lines
    wide = compared(made, {"Geraniol": 6, "Citronellol of the garden": 40})
    assert "Citronellol of the garden, 10 % in dipropylene glycol" in wide
    assert "The dilutions" not in wide


def test_a_range_table_has_no_published_sum() -> None:
    rows = [{"constituent": "red", "low": "50", "high": "70"}, {"constituent": "green", "low": "30", "high": "50"}]
    text = compared(tiny(rows=rows, target={"rest": "open"}), {"Red": 9, "Green": 1})
    assert "50.00 to 70.00 " in text
    assert "Target: the ranges of the table." in text
    assert "published sum" not in text


def test_not_proven_is_said_in_the_verdict() -> None:
    found = fit(tiny(limits={"cost_per_kg": 20}, balance={"readability_g": 0.001}))
    open_ = replace(found, answer=replace(found.answer, status="feasible", bound=found.bound / 2))
    assert (
        fit_text(open_, WIDE)
        .splitlines()[0]
        .endswith("; closest so far, nothing from these 2 bottles can be more than 50 % closer.")
    )


def test_the_same_verdict_for_a_gap_that_was_left() -> None:
    found = fit(tiny(limits={"cost_per_kg": 20}, balance={"readability_g": 0.001}), Budget(gap=0.5))
    left = replace(found, answer=replace(found.answer, bound=found.judged_before.closeness.value * 0.9))
    assert "nothing more than 10 % closer can be poured" in fit_text(left, WIDE)


def test_a_bound_of_nothing_claims_nothing() -> None:
    found = fit(tiny(limits={"cost_per_kg": 20}))
    left = replace(found, answer=replace(found.answer, status="feasible", bound=0.0))
    verdict = fit_text(left, WIDE).splitlines()[0]
    assert verdict.endswith("closest so far, how much closer one from these 2 bottles could be is not known yet.")


@pytest.mark.parametrize(
    ("ended", "said"),
    [
        ("", "closest so far, "),
        ("time", "closest found in the time given, "),
        ("interrupted", "interrupted, closest so far, "),
    ],
)
def test_what_ended_a_search_is_said_in_the_verdict(ended: Ended, said: str) -> None:
    found = fit(tiny(limits={"cost_per_kg": 20}, balance={"readability_g": 0.001}))
    cut = replace(found, answer=replace(found.answer, status="feasible"), ended=ended)
    assert fit_text(cut, WIDE).splitlines()[0].partition("unnamed; ")[2].startswith(said)


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
    assert " 0.0050 " in next(line for line in text.splitlines() if line.startswith("blue"))


def test_what_is_proven_is_told_apart_from_the_rounding() -> None:
    coarse = {"readability_g": 1}
    found = fit(
        tiny((RED | {"stock_g": "1"}, GREEN), rows={"red": "60", "green": "40"}, batch={"accord_g": 3}, balance=coarse)
    )
    assert found.judged.closeness.value < found.bound, "1 g and 1 g, 2 g together, are closer than 1 g and 2 g"
    text = " ".join(fit_text(found, WIDE).split())
    assert "10.0 % wrong, 0.0 % unnamed; before rounding nothing closer can be poured" in text
    value = found.judged.closeness.value
    assert text.split("Deviation")[1] == (
        f" {value:.4g}, at best {found.bound:.4g} (proven); rounding to 1 g saved 86 %, as it makes 2 g instead of 3 g"
        ". No other whole steps of these lines are closer. reaccord help closeness"
    )


def test_rounding_that_costs_little_says_how_little() -> None:
    text = fit_text(fit(tiny((RED,), balance={"readability_g": 0.01})), WIDE)
    assert "40.0 % wrong, 0.0 % unnamed; nothing closer can be poured from this bottle." in text
    assert "Rounding is a search" not in text
    found = fit(tiny(balance={"readability_g": 0.01}, limits={"cost_per_kg": 20.111}))
    assert "; rounding to 0.01 g cost 0.0" in fit_text(found, WIDE)


def test_rounding_of_nearly_nothing_has_no_percentage() -> None:
    """It once read: 6e+06 % more."""
    found = fit(tiny(rows={"red": "60.03", "green": "39.97"}, balance={"readability_g": 0.01}))
    after = found.judged.closeness.value
    assert after > 1e3 * found.judged_before.closeness.value
    assert "% more" not in (text := fit_text(found, WIDE))
    if after > NEARLY_ZERO:
        assert "; all of it comes of rounding to 0.01 g." in text


def test_the_measure_is_named_where_it_is_another() -> None:
    text = fit_text(fit(tiny((RED,), fit={"measure": "worst"})), WIDE)
    assert "\n\nDeviation (worst, proportional) " in text


def test_no_price_at_all_is_no_cost_of_nothing() -> None:
    free = [{**bottle, "price_per_kg": ""} for bottle in (RED, GREEN)]
    found = fit(tiny(free))
    assert fit_text(found, WIDE).splitlines()[5].split() == ["2", "lines", "10.0000", "1000.0", "?"]
    totals = fit_data(found)["totals"]
    assert (totals["cost"], totals["cost_per_kg"], totals["unpriced_lines"]) == (None, None, 2)


def test_a_given_formula_is_shown_as_it_was_given() -> None:
    text = compared(tiny(balance={"readability_g": 0.01}), {"Red": 5.99995, "Green": 4.001})
    poured = [line.split()[:2] for line in text.splitlines()[4:6]]
    assert poured == [["Green", "4.00100"], ["Red", "5.99995"]]
    assert "BROKEN" in text
    assert "0.00005" in text, "the step is missed by so much"


def test_what_is_alike_in_the_digits_shown_does_not_look_off() -> None:
    """All of the deviation is in these two rows, and none of it can be seen."""
    text = compared(tiny(), {"Red": 6.0001, "Green": 3.9999})
    assert "Each of the 3 rows is within 0.01 points." in text


def test_whole_steps_of_bottles_are_rounded_to_without_a_balance() -> None:
    text = fit_text(fit(tiny([RED | {"step_g": "0.7"}, GREEN | {"step_g": "0.9"}])), WIDE)
    assert "; all of it comes of rounding to whole steps. No other whole steps of these lines are closer." in " ".join(
        text.split()
    )
