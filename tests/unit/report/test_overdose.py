"""A series as people see it: predicted composition, stocks to make; invented."""

from __future__ import annotations

from tests.tiny_study import CARRIER, GREEN, RED, tiny

from reaccord.answer.fit import fit
from reaccord.contract import Budget
from reaccord.domain.study import Study
from reaccord.questions.overdose.refit import refit
from reaccord.questions.overdose.series import Series, overdose
from reaccord.questions.overdose.wanted import read_times, read_wanted
from reaccord.report.overdose import overdose_data, overdose_text

BLUE = {"material": "Blue", "constituent": "blue", "purity": "100", "lot": "B-1"}
DILUTIONS = {"strengths": ["10 %"], "carrier": "dipropylene glycol"}


def study_of() -> Study:
    """0.1 g of blue in 10 g of accord, and at least 0.2 g can be weighed: only its dilution will do."""
    return tiny(
        [RED, GREEN, BLUE, CARRIER],
        rows={"red": "60", "green": "39", "blue": "1"},
        balance={"readability_g": 0.001, "minimum_g": 0.2},
        dilutions=DILUTIONS,
    )


def series_of(times: str = "1,2,4", of: str = "blue") -> Series:
    study = study_of()
    return overdose(study, fit(study).amounts, read_wanted(study, of), read_times(times, least=1.0))


def test_every_vial_has_its_predicted_composition() -> None:
    series = series_of()
    lines = overdose_text(series, 120).splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("Predicted, % of the accord"))
    assert lines[start].split()[5:] == ["base", *(step.code for step in series.steps)]
    found = {line.split()[0]: [float(word) for word in line.split()[1:]] for line in lines[start + 1 : start + 4]}
    assert [round(share) for share in found["blue"]] == [1, 1, 2, 4]
    for number, step in enumerate(series.steps, start=1):
        (data,) = [item for item in overdose_data(series)["steps"] if item["code"] == step.code]
        for name in ("blue", "red", "green"):
            assert abs(found[name][number] - 100 * data["achieved"][name]) <= 0.00501
    assert found["red"][0] > found["red"][3]


def test_nothing_moves_nothing_is_predicted() -> None:
    assert "Predicted" not in overdose_text(series_of("1"), 120)


def test_stocks_to_make_are_for_the_base_and_the_spikes_together() -> None:
    """One stock is made once: 1 g of it for the base (0.1 g of blue), and what the vials get."""
    series = series_of()
    (made,) = series.stocks
    base = sum(line.grams for line in series.base.lines if line.stock.key == made.key)
    spikes = sum(step.spike_g for step in series.steps if step.stock is not None and step.stock.key == made.key)
    assert base > 0.9
    assert spikes > 0.2
    assert base + spikes <= made.made_g <= max(base + spikes, 2.0) + 0.02
    lines = overdose_text(series, 1000).splitlines()
    said = lines[next(n for n, line in enumerate(lines) if line.startswith("Make first")) + 1]
    assert f"{made.material_g:.3f}" in said.split()
    assert f"{made.carrier_g:.3f}" in said.split()
    assert said.endswith("lot B-1")


def test_solved_again_what_else_there_is_more_of_is_said() -> None:
    """Blue comes with as much violet, which the target has none of."""
    study = tiny(
        [RED, GREEN, {"material": "Bouquet"}],
        rows={"red": "60", "green": "35", "blue": "5"},
        compositions=[
            {"material": "Bouquet", "part": "blue", "share": "50"},
            {"material": "Bouquet", "part": "violet", "share": "50"},
        ],
        balance={"readability_g": 0.001},
    )
    series = refit(study, fit(study).amounts, read_wanted(study, "blue"), (2.0,), Budget())
    (step,) = series.steps
    assert step.brought is not None
    before, after = ({r.row.label: r.achieved for r in judged.residuals} for judged in (series.base, step.judged))
    ratio = (after["red"] + after["green"]) / (before["red"] + before["green"])
    assert abs(step.brought["violet"] - 10 * (after["violet"] - ratio * before["violet"])) < 0.01
    assert "blue" not in step.brought
    assert "With blue at 2 times there is, against the base's ratios, more of violet (" in overdose_text(series, 120)


def test_vials_that_are_written_are_said_to_hold_no_carrier_for_equal_strength() -> None:
    study = study_of()
    series = refit(study, fit(study).amounts, read_wanted(study, "blue"), (0.0, 2.0), Budget())
    said = overdose_text(series, 1000, ["v/base.csv", "v/1.csv"])
    assert "Wrote v/base.csv, v/1.csv: formulas as they are weighed, without the carrier for equal strength." in said
    assert overdose_data(series)["base_solvent_g"] == series.base_solvent_g > 0


def test_solved_again_what_holds_a_missed_multiple_is_said() -> None:
    """Of blue there is 0.3 g: three times 1 % of 10 g."""
    study = tiny(
        [RED, GREEN, BLUE | {"stock_g": "0.3"}],
        rows={"red": "60", "green": "39", "blue": "1"},
        balance={"readability_g": 0.001},
    )
    series = refit(study, fit(study).amounts, read_wanted(study, "blue"), (2.0, 6.0), Budget())
    within, beyond = series.steps
    assert (within.held, overdose_data(series)["steps"][0]["held"]) == ("", None)
    assert abs(beyond.times_reached - 3) < 0.01
    assert beyond.held == "Blue is used up: with more of it 3.00 points nearer"
    assert f"blue at 6 times comes to {beyond.times_reached:.4g} times: {beyond.held}." in overdose_text(series, 1000)
