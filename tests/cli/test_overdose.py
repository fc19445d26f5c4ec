"""`overdose`: text, JSON, CSV, what it refuses."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from tests.cli.process import EXAMPLE, FAST, reaccord

STUDY, FORMULA = EXAMPLE / "study.toml", EXAMPLE / "formula_2025.csv"
SERIES = ("--of", "rose oxide", "--times", "1,2,4,8", "--formula", FORMULA)
STEP = {
    *("code", "of", "times", "times_reached", "half_step", "vial_g", "base_g", "spike", "smallest_vial_g"),
    *("brought", "solvent_g", "achieved", "limits", "held", "refused"),
}


def test_json_has_the_keys_of_the_interface() -> None:
    ended = reaccord("overdose", STUDY, *SERIES, "--output", "json")
    found = ended.json
    assert (ended.code, found["status"], found["command"]) == (0, "done", "overdose")
    data = found["data"]
    assert {"mode", "base", "steps", "stocks", "base_needed_g", "concentration", "inputs", "cautions"} <= set(data)
    assert {item["file"] for item in data["inputs"]} >= {"study.toml", "formula_2025.csv"}
    assert [step["times"] for step in data["steps"]] == [1, 2, 4, 8]
    for step in data["steps"]:
        assert set(step) == STEP
        assert abs(step["times_reached"] - step["times"]) <= step["half_step"] * 1.001 + 1e-12
        assert step["vial_g"] == pytest.approx(step["base_g"] + sum(line["grams"] for line in step["spike"]))
        assert {"material", "strength", "carrier", "lot", "grams"} == set().union(*map(set, step["spike"])) or not step[
            "spike"
        ]
        assert step["limits"]
    group = "cis-rose oxide + trans-rose oxide"
    shares = [step["achieved"][group] for step in data["steps"]]
    assert [share / shares[0] for share in shares] == pytest.approx([1, 2, 4, 8], rel=2e-3)


def test_the_formula_given_is_the_base() -> None:
    base = reaccord("overdose", STUDY, *SERIES, "--output", "json").json["data"]["base"]
    with FORMULA.open(encoding="utf-8") as stream:
        given = {row["material"]: float(row["grams"]) for row in csv.DictReader(stream)}
    assert {line["material"]: line["grams"] for line in base} == given


def test_csv_is_one_row_a_vial() -> None:
    ended = reaccord("overdose", STUDY, *SERIES, "--output", "csv", "--quiet")
    rows = list(csv.DictReader(io.StringIO(ended.out)))
    assert [row["times"] for row in rows] == ["1", "2", "4", "8"]
    assert rows[3]["spike_strength"] == "10 %"
    assert len({row["code"] for row in rows}) == 4


def test_refit_solves_again() -> None:
    words = ("--of", "rose oxide", "--times", "2", "--mode", "refit", "--formula", FORMULA, "--output", "json")
    ended = reaccord("overdose", STUDY, *words)
    (step,) = ended.json["data"]["steps"]
    assert (ended.code, step["spike"]) == (0, [])
    assert step["times_reached"] == pytest.approx(2, rel=0.05)
    assert sum(line["grams"] for line in step["formula"]) == pytest.approx(step["vial_g"])


def test_the_vials_solved_again_go_on_as_formulas(tmp_path: Path) -> None:
    """Written by code, read by name: what is weighed, smelled and compared is what the series poured."""
    vials = tmp_path / "vials"
    words = ("--of", "rose oxide", "--times", "0,2", "--formula", FORMULA, "--vials", vials, *FAST)
    data = reaccord("overdose", STUDY, *words, "--output", "json").json["data"]
    names = [vials / f"{name}.csv" for name in ("base", *(step["code"] for step in data["steps"]))]
    assert data["vials"] == [str(name) for name in names]
    assert sorted(vials.iterdir()) == sorted(names)
    compared = reaccord("compare", STUDY, *names, "--output", "json").json["data"]["formulas"]
    stated = [data["base"], *(step["formula"] for step in data["steps"])]
    assert [[(line["material"], line["grams"]) for line in each["formula"]] for each in compared] == [
        [(line["material"], line["grams"]) for line in lines] for lines in stated
    ]
    assert any(line["strength"] < 1 for line in stated[2]), "a dilution goes on as it is"
    weighed = reaccord("weigh", STUDY, "--formula", names[2], "--output", "json").json["data"]
    assert {(line["material"], line["grams"]) for line in weighed["lines"]} == {
        (line["material"], line["grams"]) for line in stated[2]
    }
    key, sheet = tmp_path / "key.csv", tmp_path / "sheet.csv"
    two = ("--formula", names[0], "--formula", names[1], "--key", key)
    served = reaccord("blind", STUDY, *two, "--out", sheet, "--output", "json").json["data"]
    assert served["samples"] == ["base", names[1].stem]
    assert [each["file"] for each in served["formulas"]] == [str(names[0]), str(names[1])]
    for vial, lines in zip(served["equal_strength"], stated, strict=False):
        concentrate_g = lines[0]["grams"] / lines[0]["share"]  # a line's share is of all without carrier
        neat = concentrate_g / sum(line["grams"] for line in lines)
        assert vial["sample_g"] * neat / (vial["sample_g"] + vial["solvent_g"]) == pytest.approx(0.1, rel=2e-3)
    assert [vial["sample"] for vial in served["equal_strength"]] == ["base", names[1].stem]
    assert {row["sample"] for row in csv.DictReader(key.read_text().splitlines())} == {"base", names[1].stem}
    again = reaccord("overdose", STUDY, *words)
    assert (again.code, again.out) == (2, "")
    assert "is there already and not empty; name a new folder." in again.err


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--of", "rose oxid", "--times", "2"), 'Did you mean "rose oxide"?'),
        (("--of", "geosmin", "--times", "2"), "the base holds no geosmin"),
        (("--of", "rose oxide", "--times", "half"), "--times takes numbers"),
        (("--of", "rose oxide", "--times", "2", "--mode", "drop"), "--mode takes spike or refit"),
        (("--of", "rose oxide", "--times", "2", "--vial-g", "0"), "--vial-g must be above 0"),
        (("--of", "rose oxide", "--times", "2", "--vial-g", "much"), "is not a number"),
        (("--of", "rose oxide", "--times", "2", "--vial-g", "1", "--mode", "refit"), "--vial-g is for spikes"),
        (("--of", "rose oxide"), "--times"),
        (("--of", "rose oxide", "--times", "2", "--vials", "v"), "--vials is for --mode refit"),
        (("--of", "rose oxide", "--times", "0", "--vials", "", "--out", "s.csv"), "in the folder of the vials"),
        (("--of", "rose oxide", "--times", "0,2", "--mode", "spike"), "--mode refit takes less, and 0."),
        (("--of", "rose oxide", "--times", "0", "--vial-g", "1"), "--vial-g is for spikes"),
        (("--of", "rose oxide", "--times=-1"), "--times must be from 0 to below"),
    ],
)
def test_usage(words: tuple[str, ...], message: str) -> None:
    ended = reaccord("overdose", STUDY, *words, "--formula", FORMULA, "--quiet")
    assert (ended.code, ended.out) == (2, "")
    assert message in ended.err


def test_findings_of_study_and_formula_come_together(study: Path) -> None:
    text = study.read_text(encoding="utf-8").replace("Citronella oil", "Citronela oil")
    study.write_text(text, encoding="utf-8")
    wrong = study.parent / "wrong.csv"
    wrong.write_text("material,grams\nCitronellol 95,lots\n", encoding="utf-8")
    ended = reaccord("overdose", study, "--of", "rose oxide", "--times", "2", "--formula", wrong)
    assert ended.code == 3
    assert "Citronela oil" in ended.err
    assert 'wrong.csv, row 2, column grams: "lots"' in ended.err


def test_an_input_is_not_written_over(study: Path) -> None:
    formula = study.parent / "formula_2025.csv"
    ended = reaccord("overdose", study, "--of", "rose oxide", "--times", "2", "--formula", formula, "--out", formula)
    assert ended.code == 2
    assert "is an input of this study" in ended.err
