"""A series of vials, reckoned by hand where that goes; all data invented."""

from __future__ import annotations

import math
from typing import Any

import pytest
from tests.cli.process import EXAMPLE
from tests.tiny_study import CARRIER, GREEN, RED, tiny

import reaccord
from reaccord.answer.fit import fit
from reaccord.answer.judge import judge
from reaccord.contract import Budget
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import UsageError
from reaccord.questions.overdose.refit import refit
from reaccord.questions.overdose.series import Series, overdose
from reaccord.questions.overdose.wanted import read_times, read_wanted
from reaccord.report.overdose import overdose_text

BLUE = {"material": "Blue", "constituent": "blue", "purity": "100", "strength": "10", "carrier": "dipropylene glycol"}
ROWS = {"red": "60", "green": "39", "blue": "1"}
BALANCE = {"readability_g": 0.001, "minimum_g": 0.02}


def study_of(*bottles: dict[str, Any], **sections: Any) -> Study:
    return tiny([RED, GREEN, BLUE, CARRIER, *bottles], rows=ROWS, **({"balance": BALANCE} | sections))


def series_of(study: Study, of: str = "blue", times: str = "1,2,4,8", vial_g: float | None = None) -> Series:
    return overdose(study, fit(study).amounts, read_wanted(study, of), read_times(times, least=1.0), vial_g)


def poured(series: Series, number: int) -> dict[StockKey, float]:
    """Return what is in a vial from the formula, gram by stock: reckoned apart from the series."""
    step = series.steps[number]
    total = math.fsum(line.grams for line in series.base.lines)
    found = {line.stock.key: line.grams * step.base_g / total for line in series.base.lines}
    if step.stock is not None:
        found[step.stock.key] = found.get(step.stock.key, 0.0) + step.spike_g
    return found


def share_in(study: Study, amounts: dict[StockKey, float], names: set[str]) -> float:
    return math.fsum(r.achieved for r in judge(study, amounts).residuals if r.row.members & names)


def test_the_grams_of_a_spike_by_hand() -> None:
    """10 g of accord and 0.9 g of carrier; a vial of a quarter: 2.725 g with 2.5 g of accord, 0.025 g of it blue.

    Twice 1 % is 2 % = (0.025 + 0.1 s) / (2.5 + 0.1 s): s = 0.025 / 0.098 = 0.2551 g.
    """
    series = series_of(study_of())
    assert [step.base_g for step in series.steps] == [2.725] * 4
    assert [step.spike_g for step in series.steps[:2]] == [0.0, 0.255]
    exact = [0.1 / (0.1 * (1 - 0.04)) * 0.025 * 3 / 0.1, 0.025 * 7 / (0.1 * (1 - 0.08))]
    assert series.steps[2].spike_g == pytest.approx(0.025 * 3 / (0.1 * 0.96), abs=5.001e-4)
    assert series.steps[3].spike_g == pytest.approx(exact[1], abs=5.001e-4)
    assert (series.base_needed_g, series.batches) == (pytest.approx(10.9), 1)
    assert all(step.brought == pytest.approx({"dipropylene glycol": 0.9 * step.spike_g}) for step in series.steps[1:])


@pytest.fixture(scope="module")
def example() -> Series:
    return series_of(reaccord.load_study(EXAMPLE / "study.toml"), "rose oxide")


@pytest.mark.parametrize("number", range(4))
def test_the_example_reaches_its_multiples(example: Series, number: int) -> None:
    """Recomputed from the poured grams, within half a step's effect: rose oxide at 1, 2, 4, 8 times."""
    series, study = example, example.study
    step, names = series.steps[number], {"cis-rose oxide", "trans-rose oxide"}
    base = share_in(study, {line.stock.key: line.grams for line in series.base.lines}, names)
    amounts = poured(series, number)
    reached = share_in(study, amounts, names) / base
    assert step.times_reached == pytest.approx(reached)
    assert not step.refused
    if step.stock is None:
        assert reached == pytest.approx(1)
        return
    assert round(step.spike_g / step.stock.step_g) * step.stock.step_g == pytest.approx(step.spike_g, abs=1e-12)
    half = {**amounts, step.stock.key: amounts[step.stock.key] + step.stock.step_g / 2}
    effect = share_in(study, half, names) / base - reached
    assert abs(reached - step.times) <= effect * (1 + 1e-3)
    assert step.half_step == pytest.approx(effect, rel=1e-3)


def test_all_other_ratios_stay_where_the_stock_is_pure() -> None:
    study = study_of()
    series = series_of(study)
    for number in range(1, 4):
        found = {r.row.label: r.achieved for r in judge(study, poured(series, number)).residuals}
        assert found["red"] / found["green"] == pytest.approx(60 / 39, rel=1e-3)
        assert series.steps[number].judged is not None


def test_equal_strength_counts_the_carrier_already_inside() -> None:
    series = series_of(study_of())
    found = [step.active_g / (step.vial_g + step.solvent_g) for step in series.steps]
    assert found == pytest.approx([series.concentration] * 4, rel=1e-3)
    assert all(step.solvent_g >= 0.02 for step in series.steps)
    assert series.solvent == "dipropylene glycol"


def test_no_carrier_where_all_are_alike() -> None:
    neat = BLUE | {"strength": "", "carrier": ""}
    study = tiny([RED, GREEN, neat], rows=ROWS, balance={"readability_g": 0.001})
    series = series_of(study)
    assert [step.solvent_g for step in series.steps] == [0.0] * 4
    assert series.concentration == pytest.approx(1)


def test_a_dilution_is_made_where_the_neat_spike_cannot_be_weighed() -> None:
    neat = BLUE | {"strength": "", "carrier": "", "material": "Blue"}
    study = tiny(
        [RED, GREEN, neat, CARRIER],
        rows=ROWS,
        balance=BALANCE,
        dilutions={"strengths": ["10 %", "1 %"], "carrier": "dipropylene glycol"},
    )
    series = series_of(study, times="1.2,1.5,1,1.1", vial_g=0.5)
    by_times = {step.times: step for step in series.steps}
    assert by_times[1.5].stock is not None
    assert by_times[1.5].stock.key.strength == 0.1
    assert by_times[1.1].stock is not None
    assert by_times[1.1].stock.key.strength == 0.01
    assert [made.key.strength for made in series.stocks] == [0.1, 0.01]
    for made in series.stocks:
        assert made.material_g >= 0.02
        assert made.reached == pytest.approx(made.key.strength)
    # 1.5 times 1 % in 0.5 g: 0.0025 / 0.985 / 0.1 g of the dilution
    assert by_times[1.5].smallest_vial_g == pytest.approx(0.02 / (0.005 * 0.5 / 0.985 / 0.1) * 0.5, abs=2e-3)


def test_the_smallest_vial_of_a_spike_that_cannot_be_weighed() -> None:
    series = series_of(study_of(), times="2", vial_g=0.1)
    (step,) = series.steps
    assert step.refused is not None
    assert "cannot be weighed" in step.refused
    assert step.smallest_vial_g is not None
    again = series_of(study_of(), times="2", vial_g=step.smallest_vial_g)
    assert again.steps[0].refused is None
    assert again.steps[0].spike_g == pytest.approx(0.02, abs=1e-3)


def test_a_stock_poorer_than_the_share_wanted_is_refused() -> None:
    study = tiny(
        [RED, GREEN, {"material": "Mixed"}],
        rows=ROWS,
        compositions=[
            {"material": "Mixed", "part": "blue", "share": "5"},
            {"material": "Mixed", "part": "green", "share": "95"},
        ],
        balance=BALANCE,
    )
    series = series_of(study, times="2,4,8")
    assert [bool(step.refused) for step in series.steps] == [False, False, True]
    assert series.steps[2].refused == "8 % is wanted, the best stock, Mixed, holds 5 % itself"
    assert series.steps[2].code == ""
    assert series.steps[0].brought is not None
    assert set(series.steps[0].brought) == {"green"}


def test_a_step_over_a_limit_is_listed_and_not_made() -> None:
    rules = [{"rule": "Blue", "kind": "each", "members": "blue", "max": "0.06"}]
    series = series_of(study_of(rules=rules))
    assert [step.refused for step in series.steps[:2]] == [None, None]
    assert series.steps[2].refused is not None
    assert series.steps[2].refused.endswith("% in the product, at most 0.06 %")
    assert [state.label for state in series.steps[1].limits] == ["Blue"]
    # its grams are free for others, and it takes nothing of the base
    assert series.base_needed_g == pytest.approx(2 * series.steps[0].base_g)


def test_the_best_stock_is_the_purest() -> None:
    poor = {"material": "Aardvark blue", "constituent": "blue", "purity": "60", "price_per_kg": "1"}
    series = series_of(study_of(poor), times="4")
    assert series.steps[0].stock is not None
    assert series.steps[0].stock.key.material == "Blue"


def test_grams_on_hand_are_counted_over_the_whole_series() -> None:
    little = BLUE | {"stock_g": "2.5"}
    study = tiny([RED, GREEN, little, CARRIER], rows=ROWS, balance=BALANCE)
    series = series_of(study)
    assert [bool(step.refused) for step in series.steps] == [False, False, False, True]
    assert series.steps[3].refused is not None
    assert "on hand: 2.5 g" in series.steps[3].refused
    with pytest.raises(UsageError, match="the base for these vials takes more than there is"):
        series_of(study, times="1,2", vial_g=20)


def test_codes_are_three_digits_and_follow_from_the_study() -> None:
    study = study_of()
    first, again = series_of(study), series_of(study_of())
    codes = [step.code for step in first.steps]
    assert [step.code for step in again.steps] == codes
    assert len(set(codes)) == 4
    assert all(len(code) == 3 and code.isdigit() and code[0] != "0" for code in codes)
    assert [step.code for step in series_of(study, times="1,2,4,9").steps] != codes


def test_nothing_in_the_base_is_an_error() -> None:
    study = study_of({"material": "Violet", "constituent": "violet", "purity": "100"})
    with pytest.raises(UsageError, match="the base holds no violet: there is nothing to multiply"):
        series_of(study, "violet")


def test_more_than_one_batch() -> None:
    series = series_of(study_of(), vial_g=10)
    assert (series.batches, series.base_needed_g) == (4, 40)


def refitted(study: Study, of: str, times: str) -> Series:
    return refit(study, fit(study).amounts, read_wanted(study, of), read_times(times, least=0.0), Budget())


def test_refit_multiplies_the_row_and_keeps_the_other_ratios() -> None:
    study = study_of()
    series = refitted(study, "blue", "0.5,1,2,4,200")
    for step in series.steps[:4]:
        assert step.judged is not None
        found = {r.row.label: r.achieved for r in step.judged.residuals}
        assert found["blue"] == pytest.approx(0.01 * step.times, rel=2e-2)
        assert found["red"] / found["green"] == pytest.approx(60 / 39, rel=1e-3)
        assert step.judged.totals.named_g == pytest.approx(10, abs=0.005)
        assert step.times_reached == pytest.approx(step.times, rel=2e-2)
    assert series.steps[4].refused == "200 times blue would be 200 % of the whole"
    assert series.proven


def test_the_base_beside_those_solved_again_is_of_their_strength() -> None:
    """Without blue there is no carrier in the vial; with it, a tenth solution, 9 g of carrier to a gram."""
    series = refitted(study_of(), "blue", "0,4,200")
    without, four, refused = series.steps
    base = series.base.totals
    assert without.judged is not None
    assert without.judged.totals.carrier_g == 0.0 < base.carrier_g
    assert refused.solvent_g == 0.0
    strengths = [(base.total_g - base.carrier_g) / (base.total_g + series.base_solvent_g)]
    strengths += [step.active_g / (step.vial_g + step.solvent_g) for step in (without, four)]
    assert strengths == pytest.approx([series.concentration] * 3, rel=1e-3)
    assert without.solvent_g > series.base_solvent_g > four.solvent_g
    (row,) = [line.split() for line in overdose_text(series, 200).splitlines() if line.startswith("base  ")]
    assert row == ["base", f"{series.base_solvent_g:.3f}"]
    nothing = refitted(study_of(), "blue", "200")
    assert (nothing.base_solvent_g, nothing.concentration) == (0.0, None)


def test_refit_multiplies_each_row_of_a_sum_and_bands_too() -> None:
    rows = [
        {"constituent": "geranial", "analysis": "2", "low": "1", "high": "4"},
        {"constituent": "neral", "analysis": "1"},
        {"constituent": "red", "analysis": "97"},
    ]
    bottles = [RED, *({"material": n, "constituent": n, "purity": "100"} for n in ("geranial", "neral"))]
    series = refitted(tiny(bottles, rows=rows), "citral", "3")
    (step,) = series.steps
    assert step.judged is not None
    found = {r.row.label: r for r in step.judged.residuals}
    assert (found["geranial"].row.low, found["geranial"].row.high) == pytest.approx((0.03, 0.12))
    assert found["geranial"].row.factor == pytest.approx(0.06**-0.5)
    assert found["neral"].achieved == pytest.approx(0.03, rel=1e-3)
    assert found["red"].row.share == pytest.approx(0.91)


def test_refit_lists_what_no_formula_can_hold() -> None:
    study = study_of(
        limits={"amount": [{"material": "Green", "at_least_g": 3.5}, {"material": "Red", "at_least_g": 5}]}
    )
    series = refitted(study, "blue", "1")
    assert series.steps[0].refused is None
    study = tiny(
        [RED, GREEN], rows={"red": "60 ", "green": "40"}, limits={"amount": [{"material": "Red", "at_most_g": 1}]}
    )
    assert refitted(study, "red", "0.1").steps[0].refused is None


def test_refit_needs_a_row_of_its_own() -> None:
    rows = {"cis-rose oxide + trans-rose oxide": "10", "red": "90"}
    rose = {"material": "Rose", "constituent": "cis-rose oxide", "purity": "100"}
    study = tiny([RED, rose], rows=rows)
    with pytest.raises(UsageError, match='reports cis-rose oxide within "cis-rose oxide'):
        refitted(study, "cis-rose oxide", "2")
    assert refitted(study, "rose oxide", "2").steps[0].times_reached == pytest.approx(2, rel=1e-3)
    with pytest.raises(UsageError, match="the target has no row of violet"):
        refitted(
            tiny([RED, rose, {"material": "V", "constituent": "violet", "purity": "99"}], rows=rows), "violet", "2"
        )


def test_names_with_commas_and_names_unknown() -> None:
    study = reaccord.load_study(EXAMPLE / "study.toml")
    found = read_wanted(study, "guaia-6,9-diene, rose oxide ,106-22-9")
    assert [wanted.name for wanted in found] == ["guaia-6,9-diene", "rose oxide", "citronellol"]
    assert found[1].members == {"rose oxide", "cis-rose oxide", "trans-rose oxide"}
    assert read_wanted(study, "cis-rose oxide + trans-rose oxide")[0].members == found[1].members
    with pytest.raises(UsageError, match=r'no constituent is called "citronelol"\. Did you mean "citronellol"'):
        read_wanted(study, "rose oxide,citronelol")
    with pytest.raises(UsageError, match="twice"):
        read_wanted(study, "citronellol,106-22-9")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1,two", 'not "two"'),
        ("0", "a spike only adds"),
        ("nan", "from 0 to below"),
        ("1e9", "from 0 to below"),
        ("0.5", "a spike only adds"),
        ("2,2.0", "2 twice"),
        ("", 'not ""'),
    ],
)
def test_times_that_cannot_be_read(text: str, words: str) -> None:
    with pytest.raises(UsageError, match=words):
        read_times(text, least=1.0)


@pytest.mark.parametrize("text", ["-1", "1e9", "nan", "inf"])
def test_multiples_that_nobody_means(text: str) -> None:
    with pytest.raises(UsageError, match=rf"--times must be from 0 to below 1,000,000, not {text}\."):
        read_times(text, least=0.0)


def test_a_carrier_is_no_constituent_to_overdose() -> None:
    study = study_of(dilutions={"strengths": ["10 %"], "carrier": "dipropylene glycol"})
    with pytest.raises(UsageError, match="dipropylene glycol is a carrier in this study"):
        read_wanted(study, "dipropylene glycol")


def test_nothing_is_made_for_a_series_of_nothing() -> None:
    series = series_of(study_of(), times="1.0000001", vial_g=0.1)
    assert all(step.refused for step in series.steps)
    assert series.stocks == ()


def test_no_larger_vial_is_advised_where_the_base_has_no_more() -> None:
    little = {"stock_g": "6"}
    bottles = [RED | little, GREEN, BLUE, CARRIER]
    study = tiny(bottles, rows=ROWS, balance=BALANCE)
    refused = [step.refused for step in series_of(study, times="1,1.001").steps if step.refused]
    assert len(refused) == 1
    assert "cannot be weighed, and for larger vials there is too little of Red: on hand: 6 g" in refused[0]


def test_an_omission_keeps_the_ratios_of_the_others() -> None:
    """Red 60, green 30 and blue 10 without blue: red and green two to one, nothing of blue."""
    blue = {"material": "Blue", "constituent": "blue", "purity": "100", "price_per_kg": "30"}
    study = tiny([RED, GREEN, blue], rows={"red": "60", "green": "30", "blue": "10"}, balance=BALANCE)
    series = refit(study, fit(study).amounts, read_wanted(study, "blue"), read_times("0,1", least=0.0), Budget())
    without, whole = series.steps
    assert without.judged is not None
    grams = {line.stock.key.material: line.grams for line in without.judged.lines}
    assert grams == {"Red": pytest.approx(10 * 2 / 3, abs=2e-3), "Green": pytest.approx(10 / 3, abs=2e-3)}
    assert (without.times_reached, without.held) == (0.0, "")
    assert whole.times_reached == pytest.approx(1, abs=1e-3)


def test_an_omission_says_what_cannot_be_kept_out() -> None:
    """Green comes with a tenth of blue only."""
    oil = [{"material": "Oil", "part": "green", "share": "90"}, {"material": "Oil", "part": "blue", "share": "10"}]
    rows = {"red": "60", "green": "30", "blue": "10"}
    study = tiny([RED, {"material": "Oil"}], rows=rows, compositions=oil, balance=BALANCE)
    (step,) = refit(study, fit(study).amounts, read_wanted(study, "blue"), (0.0,), Budget()).steps
    assert step.times_reached > 0.01
    assert "Oil" in step.held


def test_without_what_the_base_does_not_hold_is_no_vial_of_its_own() -> None:
    study = tiny([RED, GREEN], rows={"red": "60", "green": "30", "blue": "10"}, balance=BALANCE)
    (step,) = refit(study, fit(study).amounts, read_wanted(study, "blue"), (0.0,), Budget()).steps
    assert (step.code, step.refused) == ("", "the base holds none of blue: without it is the base itself")


def test_the_least_that_stays_is_told() -> None:
    """A tenth of a percent of blue in all green there is: less than a hundredth of its row, and yet in the vial."""
    oil = [{"material": "Oil", "part": "green", "share": "99.9"}, {"material": "Oil", "part": "blue", "share": "0.1"}]
    rows = {"red": "60", "green": "30", "blue": "10"}
    blue = {"material": "Blue", "constituent": "blue", "purity": "100"}
    study = tiny([RED, {"material": "Oil"}, blue], rows=rows, compositions=oil, balance=BALANCE)
    series = refit(study, fit(study).amounts, read_wanted(study, "blue"), (0.0,), Budget())
    assert 0 < series.steps[0].times_reached < 0.01
    assert "blue is not all out of it, 0.033 % of the accord stays" in overdose_text(series, 200)


def test_nothing_is_left_of_a_target_of_one_constituent() -> None:
    study = tiny([RED, GREEN], rows={"red": "100"}, balance=BALANCE)
    (step,) = refit(study, fit(study).amounts, read_wanted(study, "red"), (0.0,), Budget()).steps
    assert step.refused == "without red nothing of the target would be left"
