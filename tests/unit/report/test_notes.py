"""What stands behind the verdict: little declared, much poured, farther off than an empty vial."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.studies import study

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.answer.judge import empty_vial, judge
from reaccord.domain.study import Study
from reaccord.programme import state
from reaccord.questions.cheapest import Within, cheapest
from reaccord.report.cheapest import cheapest_text
from reaccord.report.compare import Compared, compare_data, compare_text
from reaccord.report.data import fit_data
from reaccord.report.notes import Note, notes
from reaccord.report.terminal import fit_text

WIDE = 1000
PRICED = (
    "material,constituent,purity,price_per_kg\nGeraniol,geraniol,100,100\nCitronellol,citronellol,100,100\nOil,,,1\n"
)
OIL = "material,part,share\nOil,geraniol,5\nOil,camphor,95"


def limited(cost: float | None, **fitted: Any) -> Study:
    """Of the Oil a gram of geraniol costs 0.02 and brings 19 g of camphor."""
    return study(bottles=PRICED, compositions=OIL, settings={"limits": {"cost_per_kg": cost}, "fit": fitted})


def farther(found: Fit) -> str:
    """Return the sentence of the note that it is farther off than an empty vial."""
    (sentence,) = [note["sentence"] for note in fit_data(found)["notes"] if note["code"] == "empty-vial"]
    return str(sentence)


def notes_of(made: Study) -> list[Note]:
    return notes(made, fit(made).judged)


@pytest.mark.parametrize("measure", ["squares", "absolute", "worst"])
def test_an_empty_vial_deviates_by_what_the_programme_says_of_nothing(measure: str) -> None:
    made = limited(None, measure=measure)
    programme = state(made)
    assert empty_vial(made) == pytest.approx(programme.value(np.zeros_like(programme.step)))


def test_a_closest_formula_farther_than_an_empty_vial_is_no_slip_in_what_was_asked_for() -> None:
    found = cheapest(limited(50), Within(above=0.05))
    assert found.within > found.nothing
    assert "So much is hardly a limit" not in cheapest_text(found, WIDE)


def test_what_nobody_declares_alone_is_not_farther_than_an_empty_vial() -> None:
    """The undeclared row alone deviates by more than nothing would; all that is known of the oil is right."""
    parts = "material,part,share\nOil,geraniol,39\nOil,citronellol,26"
    target = "constituent,G1\ngeraniol,60\ncitronellol,40"
    made = study(target=target, bottles="material\nOil", compositions=parts, settings={"limits": {}})
    found = fit(made)
    assert found.judged.closeness.value > empty_vial(made)
    assert found.judged.closeness.misplaced_share < 0.02
    assert [note.code for note in notes_of(made)] == ["little-declared"]
    assert "empty vial" not in fit_text(found, WIDE)


def test_farther_than_an_empty_vial_is_said_with_the_least_ceiling_that_is_nearer() -> None:
    found = fit(limited(50))
    verdict, rest = fit_text(found, WIDE).split("\n", 1)
    said = "It is farther from the target than an empty vial. Nearer ones begin at "
    assert said in verdict
    assert said not in rest
    sentence = farther(found)
    assert sentence in verdict
    least = float(sentence.partition(said)[2].split()[0])
    nothing = empty_vial(found.study)
    assert fit(limited(least)).judged.closeness.value <= nothing < fit(limited(least - 0.2)).judged.closeness.value


def test_where_the_least_ceiling_is_not_found_in_time_the_command_that_shows_it_is_named(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("reaccord.questions.nearer.SECONDS", 0.0)
    monkeypatch.setattr("reaccord.answer.why.farther.MOST", 0)
    assert farther(fit(limited(50))).endswith("an empty vial. `reaccord frontier` shows what each cost per kg allows.")


@pytest.mark.parametrize("limits", [{"cost_per_kg": 50}, {}])
def test_where_no_ceiling_is_in_the_way_none_is_named(limits: dict[str, float]) -> None:
    """The others left out, nothing on this shelf is nearer than an empty vial, whatever it may cost."""
    made = study(
        bottles=PRICED,
        compositions=OIL,
        settings={"limits": {"exclude": ["Geraniol", "Citronellol"], **limits}},
    )
    assert (
        farther(fit(made))
        == "It is farther from the target than an empty vial. No formula from these bottles is nearer."
    )


def test_limits_that_stand_in_the_way_together_are_named() -> None:
    """Without the amount or without the two lines there is something nearer than nothing."""
    made = study(
        target="constituent,G1\ngeraniol,50\ncitronellol,30\nlinalool,20",
        bottles="material,constituent,purity\nGeraniol,geraniol,100\nCitronellol,citronellol,100\nRest,linalool,100",
        settings={"limits": {"lines": 1, "amount": [{"material": "Rest", "at_least_g": 1}]}},
    )
    said = "In the way: at most 1 line; Rest at least 1 g. Without any one of these there are nearer ones."
    assert said in farther(fit(made))


def test_a_formula_that_is_nearer_has_no_note() -> None:
    assert notes_of(limited(None)) == []


def test_cheapest_says_it_too() -> None:
    found = cheapest(limited(None), Within(deviation=20.0))
    assert found.judged.closeness.value > found.nothing
    assert "farther from the target than an empty vial" in cheapest_text(found, WIDE).split("\n", 1)[0]


@pytest.mark.parametrize(("undeclared", "said"), [(26, True), (25, False)])
def test_over_a_quarter_undeclared_is_said_first(undeclared: int, said: bool) -> None:
    parts = f"material,part,share\nOil,geraniol,{(100 - undeclared) * 0.6}\nOil,citronellol,{(100 - undeclared) * 0.4}"
    found = fit(study(bottles="material\nOil", compositions=parts))
    sentence = "26 % of it is what nobody declares: what that smells of is not known."
    assert (sentence in fit_text(found, WIDE).split("\n", 1)[0]) == said
    assert ("little-declared" in [note["code"] for note in fit_data(found)["notes"]]) == said


@pytest.mark.parametrize(
    ("strength", "said"), [(30, "33.33 g are poured for 10 g of accord: 23.33 g is carrier of dilutions."), (34, "")]
)
def test_over_three_times_the_accord_is_said_with_its_cause(strength: int, said: str) -> None:
    rows = f"Geraniol,geraniol,100,{strength},DPG\nCitronellol,citronellol,100,{strength},DPG"
    found = fit(study(bottles="material,constituent,purity,strength,carrier\n" + rows))
    (sentence,) = [note["sentence"] for note in fit_data(found)["notes"] if note["code"] == "much-poured"] or [""]
    assert sentence == said
    assert sentence in fit_text(found, WIDE).split("\n", 1)[0]


def test_what_is_poured_beside_the_accord_is_named_by_weight() -> None:
    parts = "material,part,share\nOil,geraniol,20\nOil,camphor,30"
    (note, *_) = [n for n in notes_of(study(bottles="material\nOil", compositions=parts)) if n.code == "much-poured"]
    assert note.sentence == (
        "50 g are poured for 10 g of accord: 25 g is what nobody declares, 15 g is foreign to the target."
    )


def test_compare_says_the_notes_of_each_formula() -> None:
    made = limited(None)
    oil = next(stock.key for stock in made.stocks if stock.key.material == "Oil")
    poured = Compared("old.csv", made, judge(made, {oil: 1.0}), {})
    assert [note["code"] for note in compare_data([poured])["notes"]] == ["empty-vial", "much-poured"]
    assert "farther from the target than an empty vial" in compare_text([poured], WIDE).split("\n", 1)[0]
    best = Compared("new.csv", made, fit(made).judged, {})
    line = next(line for line in compare_text([best, poured], WIDE).splitlines() if line.startswith("old holds"))
    assert "It is farther from the target than an empty vial. 1 g are poured for 0.05 g of accord" in line
