"""`correct`: from the sheet with what was poured, or a line of it; what it refuses and warns of."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from tests.cli.process import EXAMPLE, Ended, reaccord
from tests.seeds import QUICK

STUDY, FORMULA = EXAMPLE / "study.toml", EXAMPLE / "formula_2025.csv"
AGREED = ("correct", STUDY, "--formula", FORMULA)


def sheet(folder: Path, *words: object, lines: int = 3, times: float = 1.4) -> Path:
    """Write the sheet with so many lines poured, the last of them so many times too much."""
    ended = reaccord("weigh", STUDY, *words, "--output", "csv", "--quiet")
    rows = list(csv.DictReader(io.StringIO(ended.out)))
    for number, row in enumerate(rows[:lines], start=1):
        row["poured_g"] = f"{float(row['grams']) * (times if number == lines else 1):.3f}"
    path = folder / "sheet.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    return path


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Ended:
    """The third line of the example's sheet poured by 40 % too much."""
    return reaccord("correct", STUDY, sheet(tmp_path_factory.mktemp("sheet")), "--output", "json", "--quiet")


def test_the_third_line_over_poured_is_mended(shown: Ended) -> None:
    data = shown.json["data"]
    assert (shown.code, data["advice"]) == (0, "correct")
    before, after = data["before"]["value"], data["after"]
    assert data["planned"]["value"] < after["value"] < before
    assert after["bound"] <= after["before_rounding"] <= after["bound"] * 1.001
    assert after["value"] <= after["bound"] * 1.01
    assert after["accord_g"] <= data["allowed_accord_g"] * 1.01
    assert all(state["held"] for state in data["limits"])
    keys = ("material", "strength", "carrier", "lot")
    there = {tuple(row[key] for key in keys): row["grams"] for row in (*data["poured"],)}
    for row in data["additions"]:
        key = tuple(row[key] for key in keys)
        there[key] = there.get(key, 0.0) + row["grams"]
    final = {tuple(row[key] for key in keys): row["grams"] for row in data["formula"]}
    assert final == pytest.approx(there)
    assert {row["constituent"] for row in data["residuals"]} >= {"citronellol", "geraniol"}


@pytest.mark.parametrize("_", [pytest.param(0, marks=QUICK)])
def test_the_reference_finds_nothing_closer_on_the_example(_: int, shown: Ended) -> None:
    from reaccord.contract import Budget
    from reaccord.domain.stock import StockKey
    from reaccord.questions.correct.statement import Range, Statement
    from reaccord.solvers import reference
    from reaccord.study.load import load_study

    data, study = shown.json["data"], load_study(STUDY)
    poured = {StockKey(*(row[key] for key in StockKey._fields)): row["grams"] for row in data["poured"]}
    statement = Statement(study, study.stocks, poured)
    within = Range(data["planned"]["accord_g"], data["allowed_accord_g"])
    every = range(len(statement.stocks))
    other = reference.solve(statement.growing(data["planned"]["accord_g"], within, every), Budget(1e-4))
    assert other.status == "proven"
    assert data["after"]["bound"] <= other.value * (1 + 1e-6)
    assert other.bound * (1 - 1e-3) <= data["after"]["before_rounding"] <= other.value * (1 + 1e-3)


def test_the_plan_is_the_sheets_own(tmp_path: Path) -> None:
    """All of an older formula poured but the last line: what is planned is that formula, not the closest there is."""
    poured = sheet(tmp_path, "--formula", FORMULA, lines=16, times=1.0)
    data = reaccord("correct", STUDY, poured, "--output", "json", "--quiet").json["data"]
    same = reaccord(*AGREED, poured, "--output", "json", "--quiet").json["data"]
    assert data["planned"] == same["planned"]
    assert data["additions"] == same["additions"]


def test_a_line_said_twice_is_not_taken_for_one() -> None:
    ended = reaccord(*AGREED, "--poured", "Geranium base=1", "--poured", "Geranium base=1.3")
    assert (ended.code, ended.out) == (2, "")
    assert "Geranium base (own-11) is said twice. Write the sum" in ended.err


def test_what_growing_cannot_mend_is_begun_again() -> None:
    ended = reaccord(*AGREED, "--poured", "Dipropylene glycol=18", "--quiet")
    assert ended.code == 4
    assert "However far it grows: start over." in ended.err


def test_a_dilution_without_its_strength_is_the_one_there_is(tmp_path: Path) -> None:
    table = tmp_path / "p.csv"
    table.write_text("material,poured_g\nRose oxide cis-rich,0.85\nIsomenthone isolate,0.9 g\n", encoding="utf-8")
    poured = reaccord(*AGREED, table, "--output", "json", "--quiet").json["data"]["poured"]
    assert [(row["material"], row["strength"], row["grams"]) for row in poured] == [
        ("Isomenthone isolate", 1.0, 0.9),
        ("Rose oxide cis-rich", 0.1, 0.85),
    ]


def test_a_name_that_may_be_the_planned_dilution_or_the_neat_bottle_is_asked(tmp_path: Path) -> None:
    """The formula, given or solved for, has the dilution alone; each spelling that is named is one of the two."""
    plan = tmp_path / "plan.csv"
    dilution = "Citronellal 92,10 %,dipropylene glycol,made,0.128"
    plan.write_text(f"material,strength,carrier,lot,grams\nCitronellol 95,,,C-29,5\n{dilution}\n", encoding="utf-8")
    for given in (("--formula", plan), ()):
        (asked,) = reaccord("correct", STUDY, *given, "--poured", "Citronellal 92=0.2", "--output", "json").json[
            "errors"
        ]
        assert (asked["code"], asked["file"]) == ("which-strength", "--poured")
        assert (
            'Write "Citronellal 92, 10 %=0.2" if the dilution was poured, "Citronellal 92, 100 %=0.2"'
            in asked["message"]
        )
    for strength in (10, 100):
        words = ("--formula", plan, "--poured", f"Citronellal 92, {strength} %=0.2", "--output", "json")
        (poured,) = reaccord("correct", STUDY, *words).json["data"]["poured"]
        assert (poured["material"], poured["strength"]) == ("Citronellal 92", strength / 100)


def test_one_line_of_words_and_a_table_together(tmp_path: Path) -> None:
    """What is said in words stands for that line of the table."""
    poured = sheet(tmp_path, "--formula", FORMULA, lines=1, times=1.0)
    ended = reaccord(*AGREED, poured, "--poured", "Citronellol 95=3.9 g", "--output", "json", "--quiet")
    assert [(row["material"], row["grams"]) for row in ended.json["data"]["poured"]] == [("Citronellol 95", 3.9)]
    text = reaccord(*AGREED, "--poured", "Citronellol 95=3.9", "--quiet").out
    assert text.startswith("Garden geranium, lot G7: correct it: ")
    assert "Every limit holds with it." in text


def test_additions_as_csv_are_a_formula_to_weigh(tmp_path: Path) -> None:
    ended = reaccord(*AGREED, "--poured", "Citronellol 95=3.9", "--output", "csv", "--quiet")
    more = tmp_path / "more.csv"
    more.write_text(ended.out, encoding="utf-8")
    again = reaccord("weigh", STUDY, "--formula", more, "--output", "json", "--quiet")
    rows = list(csv.DictReader(io.StringIO(ended.out)))
    assert {line["material"]: line["grams"] for line in again.json["data"]["lines"]} == {
        row["material"]: float(row["grams"]) for row in rows if float(row["grams"])
    }
    again = reaccord(*AGREED, more, "--output", "csv", "--quiet")
    assert again.out == ended.out


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((), 2, 'what was poured? Name the table of it, or write --poured "NAME=GRAM".'),
        (("--poured", "Citronellol 95"), 2, '--poured takes a name and grams, as "Citral 95=1.96"'),
        (("--poured", "Citronellol 95=-1"), 2, "less than nothing cannot be poured"),
        (("--poured", "Citronellol 95=x"), 2, "--poured Citronellol 95=x:"),
        (("--poured", "Citronellol 96=1"), 2, 'no bottle is called "Citronellol 96". Did you mean "Citronellol 95"?'),
        (("--poured", "Tiglate fraction=0.4"), 3, "0.4 g of Tiglate fraction (TF-01) are poured, 0.16 g were on hand."),
        (("--poured", "Citronellol 95=0"), 2, "nothing is poured yet: reaccord weigh says what to pour."),
        (("--poured", "Citronellol 95=3", "--grow", "2"), 2, "Let it grow to more."),
        (("--poured", "Citronellol 95=3", "--grow", "-1 %"), 2, "--grow must be above 0"),
    ],
)
def test_what_is_refused(words: tuple[str, ...], code: int, said: str) -> None:
    ended = reaccord(*AGREED, *words)
    assert (ended.code, said in ended.err) == (code, True), ended.err


def test_a_table_of_what_was_poured_that_is_wrong(tmp_path: Path) -> None:
    path = tmp_path / "poured.csv"
    for text, said in (
        ("material,poured_g\nCitronellol 95,-2\n", 'row 2, column poured_g: "-2" is below 0.'),
        ("material,lot,poured_g\nCitronelol 95,C-31,2\n", 'no bottle is called "Citronelol 95". Did you mean'),
        ("material,lot\nCitronellol 95,C-31\n", 'the column "poured_g" is missing.'),
        ("material,lot,poured_g\nTiglate fraction,TF-01,2\n", "2 g of Tiglate fraction (TF-01) are poured"),
    ):
        path.write_text(text, encoding="utf-8")
        ended = reaccord(*AGREED, path)
        assert (ended.code, said in ended.err) == (3, True), ended.err


def test_a_bottle_that_is_not_in_the_formula_is_counted_and_said() -> None:
    words = ("--poured", "Nerol 92=0.3", "--poured", "Citronella oil=0.05", "--output", "json")
    found = reaccord(*AGREED, *words).json
    said = [(finding["code"], finding["message"].split(" (")[0]) for finding in found["warnings"]]
    assert ("not-in-formula", "Nerol 92") in said
    assert ("set-aside-poured", "Citronella oil") in [(code, text) for code, text in said]
    assert "Citronella oil" not in [row["material"] for row in found["data"]["additions"]]
    assert "Citronella oil" in [row["material"] for row in found["data"]["formula"]]
