"""`compare` with one formula and with several."""

from __future__ import annotations

import json
from pathlib import Path

from tests.cli.process import EXAMPLE, reaccord

STUDY = EXAMPLE / "study.toml"
FORMULA = EXAMPLE / "formula_2025.csv"


def changed(folder: Path, name: str, old: str, new: str) -> Path:
    text = FORMULA.read_text(encoding="utf-8")
    assert old in text
    path = folder / name
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


def test_several_are_judged_each_as_by_itself(tmp_path: Path) -> None:
    weak = changed(tmp_path, "weak.csv", "C-31,3.180", "C-31,2.5")
    both = reaccord("compare", STUDY, FORMULA, weak, "--output", "json", "--log", tmp_path / "log")
    assert (both.code, both.json["status"], both.json["exit_code"]) == (4, "infeasible", 4), "one breaks a limit"
    alone = [reaccord("compare", STUDY, path, "--output", "json") for path in (FORMULA, weak)]
    assert [each.code for each in alone] == [0, 4]
    data = both.json["data"]
    assert data["formulas"] == [
        {"file": str(path), **each.json["data"]} for path, each in zip((FORMULA, weak), alone, strict=True)
    ]
    assert [item["file"] for item in data["inputs"]][-2:] == ["formula_2025.csv", "weak.csv"]
    line = json.loads((tmp_path / "log").read_text(encoding="utf-8"))
    assert (line["title"], line["inputs"], line["exit_code"]) == (data["title"], data["inputs"], 4)
    told = reaccord("compare", STUDY, FORMULA, weak)
    assert told.code == 4
    assert "of 2 formulas 1 holds every limit, closest formula_2025: 14.4 %" in told.out
    assert "warning: weak.csv: breaks Geraniol: " in told.err


def test_the_findings_of_all_formulas_come_at_once(tmp_path: Path) -> None:
    wrong = changed(tmp_path, "wrong.csv", "Linalool 97", "Linalol 79")
    blank = tmp_path / "blank.csv"
    blank.write_text("material,lot,grams\nGeraniol 97,GE-12,0\n", encoding="utf-8")
    ended = reaccord("compare", STUDY, wrong, FORMULA, blank)
    assert (ended.code, ended.out) == (3, "")
    assert 'no bottle is called "Linalol 79"' in ended.err
    assert "blank.csv: no line pours anything." in ended.err
    assert "2 findings, nothing was solved." in ended.err


def test_no_formula_is_written_over(tmp_path: Path) -> None:
    mine = changed(tmp_path, "mine.csv", "3.180", "3.181")
    before = mine.read_bytes()
    assert reaccord("compare", STUDY, FORMULA, mine, "--out", mine).code == 2
    assert mine.read_bytes() == before


def test_a_column_that_is_missing_is_the_only_finding(tmp_path: Path) -> None:
    path = tmp_path / "drops.csv"
    path.write_text("material,drops\nLinalool 97,6\n", encoding="utf-8")
    ended = reaccord("compare", STUDY, path, "--output", "json")
    assert [error["code"] for error in ended.json["errors"]] == ["missing-column"]
