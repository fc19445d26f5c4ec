"""Formulas side by side. Red costs 10 and green 50 per kg, 60 to 40 are wanted; invented."""

from __future__ import annotations

import csv
import io

import pytest
from tests.tiny_study import tiny

from reaccord.report.compare import Compared, broken_limits, compare_csv, compare_data, compare_text, compared
from reaccord.report.data import judgement_data

STUDY = tiny(limits={"cost_per_kg": 27}, fit={"scale": "equal"})


def of(name: str, red: float, green: float) -> Compared:
    return compared(name, STUDY, {s.key: {"Red": red, "Green": green}[s.key.material] for s in STUDY.stocks})


NOW = of("old/now.csv", 6, 4)
TWICE = of("twice.csv", 14, 6)
GREEN = of("green.csv", 5, 5)


def table(text: str, heading: str) -> dict[str, list[str]]:
    """Return the rows below a heading, by their first word."""
    (part,) = (part for part in text.split("\n\n") if part.startswith(heading))
    return {line.split()[0]: line.split()[1:] for line in part.splitlines()}


def test_one_formula_has_the_data_of_its_judgement() -> None:
    assert compare_data([NOW]) == judgement_data(STUDY, NOW.judged, NOW.reasons)
    assert compare_csv([NOW]).startswith("constituent,kind,")


def test_several_have_each_their_own_data_and_file() -> None:
    data = compare_data([NOW, TWICE])
    assert [one["file"] for one in data["formulas"]] == ["old/now.csv", "twice.csv"]
    for one, found in zip(data["formulas"], (NOW, TWICE), strict=True):
        assert one == {"file": found.name, **judgement_data(STUDY, found.judged, found.reasons)}
    assert data["title"] == STUDY.title


def test_grams_and_cost_are_at_the_same_batch() -> None:
    """20 g that are 14 to 6 are 7 to 3 in a batch of 10 g."""
    assert STUDY.settings.batch.accord_g == 10
    rows = table(compare_text([NOW, TWICE], 120), "Pour")
    assert rows["Pour"] == ["now", "twice"]
    assert [float(cell) for cell in rows["Red"]] == [6, 7]
    assert [float(cell) for cell in rows["Green"]] == [4, 3]
    assert [float(cell) for cell in rows["cost"]] == pytest.approx([0.26, 0.22])


def test_what_differs_most_stands_first() -> None:
    rows = table(compare_text([NOW, TWICE, GREEN], 120), "Off the target")
    assert rows["red"] == ["0.00", "+10.00", "-10.00"]
    assert rows["green"] == ["0.00", "-10.00", "+10.00"]


def test_the_closest_is_one_that_holds_every_limit() -> None:
    """Green costs 30 per kg of 27 allowed."""
    assert "the closest of 2 formulas is now: 0.0 % wrong" in compare_text([NOW, TWICE], 120)
    assert "of 2 formulas 1 holds every limit, closest twice: 10.0 % wrong" in compare_text([TWICE, GREEN], 120)
    alone = compare_text([GREEN, of("greener.csv", 4, 6)], 120)
    assert "none of 2 formulas holds every limit; the closest is green: 10.0 % wrong" in alone
    assert table(alone, "Formula")["limits"] == ["broken", "1", "1"]
    assert [found.place.file for found in broken_limits(GREEN)] == ["green.csv"]
    assert not broken_limits(NOW)


def test_files_of_one_name_are_told_apart() -> None:
    assert "is a/now.csv: " in compare_text([of("a/now.csv", 6, 4), of("b/now.csv", 7, 3)], 120)


def test_a_file_given_twice_is_two_formulas() -> None:
    text = compare_text([TWICE, TWICE], 120)
    assert table(text, "Pour")["Pour"] == ["twice", "twice", "(2)"]
    assert "none of 2 formulas holds every limit" in compare_text([GREEN, GREEN], 120)


def test_long_names_are_numbered_where_the_table_would_not_hold_them() -> None:
    long = of("try " + 20 * "on and " + "on.csv", 7, 3)
    text = compare_text([NOW, long], 80)
    assert table(text, "Pour")["Pour"] == ["(1)", "(2)"]
    assert "(1) now holds every limit." in text
    assert all(len(line) <= 80 for line in text.splitlines())


def test_formulas_that_are_alike() -> None:
    assert "No row of the target differs by as much as 0.01 points." in compare_text([NOW, of("same.csv", 6, 4)], 120)


def test_csv_names_the_formula_of_each_row() -> None:
    rows = list(csv.DictReader(io.StringIO(compare_csv([NOW, TWICE]))))
    assert [row["formula"] for row in rows] == ["old/now.csv"] * 3 + ["twice.csv"] * 3
    assert [row["achieved"] for row in rows if row["constituent"] == "red"] == ["60 %", "70 %"]
