"""`blind` and `history`: a test prepared, answered and read; the record of it."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from tests.cli.process import EXAMPLE, reaccord

STUDY, FORMULA = EXAMPLE / "study.toml", EXAMPLE / "formula_2025.csv"


def answered(key: Path, sheet: Path, right: int) -> Path:
    """Fill in the sheet: so many assessors find the odd vial."""
    behind: dict[str, dict[str, str]] = {}
    with key.open(encoding="utf-8") as stream:
        for row in csv.DictReader(stream):
            behind.setdefault(row["assessor"], {})[row["code"]] = row["sample"]
    with sheet.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    for number, row in enumerate(rows):
        codes = behind[row["assessor"]]
        odd = next(code for code in codes if list(codes.values()).count(codes[code]) == 1)
        row["answer"] = odd if number < right else next(code for code in codes if code != odd)
    filled = sheet.with_name("answers.csv")
    with filled.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    return filled


def test_a_test_from_the_sheet_to_the_verdict(tmp_path: Path) -> None:
    key, sheet, log = tmp_path / "key.csv", tmp_path / "sheet.csv", tmp_path / "runs.jsonl"
    made = reaccord("blind", STUDY, "--key", key, "--assessors", "12", "--out", sheet, "--output", "csv")
    assert made.code == 0
    assert "reference" not in made.out.replace("reference_", "")  # what a vial holds stands in the key alone
    assert "Serve both samples at one strength" in reaccord("blind", STUDY, "--key", tmp_path / "k.csv").out
    words = ("--key", tmp_path / "k2.csv", "--assessors", "2", "--formula", FORMULA)
    lines = reaccord("blind", STUDY, *words).out.splitlines()
    head = next(n for n, line in enumerate(lines) if line.startswith("Fill "))
    assert [line.split()[0] for line in lines[head + 1 : head + 3]] == ["accord", "reference"]
    assert sum(int(line.split()[1]) for line in lines[head + 1 : head + 3]) == 6
    assert lines[head + 2].split()[2:] == ["0.500", "4.500", "10.00", "%"]
    words = ("--key", key, "--answers", answered(key, sheet, 8), "--formula", FORMULA)
    found = reaccord("blind", STUDY, *words, "--log", log, "--note", "by the window", "--output", "json").json
    data = found["data"]
    assert (data["n"], data["correct"], data["critical"], data["proven"]) == (12, 8, 8, True)
    assert data["probability"] == pytest.approx(9969 / 3**12)
    assert {item["file"] for item in data["inputs"]} >= {"key.csv", "answers.csv", "formula_2025.csv", "study.toml"}
    other = sheet.with_name("other.csv")
    other.write_bytes(FORMULA.read_bytes())
    words = ("--answers", answered(key, sheet, 3), "--formula", FORMULA, "--formula", other)
    assert "the key is of accord and reference, not of" in reaccord("blind", STUDY, "--key", key, *words).err
    text = reaccord("blind", STUDY, "--key", key, "--answers", answered(key, sheet, 3)).out
    assert "no difference is proven, which is not the same as none" in text
    assert "These answers agree with up to" in text
    text = reaccord("blind", STUDY, "--key", key, "--answers", answered(key, sheet, 0)).out
    assert "That is fewer than guessing gives" in text
    shown = reaccord("history", log).out
    assert "8 of 12 found the odd vial; a difference is proven." in shown
    assert "by the window" in shown


def test_a_pair_has_two_vials_and_no_third(tmp_path: Path) -> None:
    key = tmp_path / "key.csv"
    words = ("--key", key, "--test", "paired", "--assessors", "4", "--samples", "once,four times", "--seed", "1")
    data = reaccord("blind", STUDY, *words, "--output", "json").json["data"]
    assert [len(order["codes"]) for order in data["orders"]] == [2] * 4
    assert (data["samples"], data["critical"], data["detectable"]) == (["once", "four times"], None, None)
    with key.open(encoding="utf-8") as stream:
        assert {row["sample"] for row in csv.DictReader(stream)} == {"once", "four times"}


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((), 2, "--key FILE is needed"),
        (("--key", STUDY), 2, "is an input of this study"),
        (("--key", "none.csv", "--answers", "none.csv"), 3, "there is no such file"),
        (("--key", "k.csv", "--formula", FORMULA, "--formula", FORMULA), 2, 'are called "formula_2025"'),
        (("--key", "k.csv", *("--formula", FORMULA) * 3), 2, "of two samples; --formula names 3"),
        (("--key", "k.csv", *("--formula", FORMULA) * 2, "--samples", "a,b"), 2, "are called by their files"),
        (("--key", "k.csv", "--test", "duo"), 2, "--test takes triangle or paired"),
        (("--key", "k.csv", "--samples", "one"), 2, "--samples takes two names"),
        (("--key", "k.csv", "--assessors", "400"), 2, "300 at most"),
        (("--key", "k.csv", "--expected", "accord"), 2, "--expected is for --answers"),
        (("--key", "k.csv", "--answers", "a.csv", "--seed", "1"), 2, "--seed is for making the sheet"),
        (("--key", "k.csv", "--note", "sweet"), 2, "--note is kept in the log"),
    ],
)
def test_what_it_refuses(words: tuple[str, ...], code: int, said: str, tmp_path: Path) -> None:
    given = [tmp_path / word if str(word).endswith(".csv") else word for word in words]
    ended = reaccord("blind", STUDY, *given, "--quiet")
    assert ended.code == code
    assert said in ended.err
    assert not list(tmp_path.iterdir())


def test_a_key_is_never_written_over(tmp_path: Path) -> None:
    key = tmp_path / "key.csv"
    assert reaccord("blind", STUDY, "--key", key).code == 0
    before = key.read_bytes()
    ended = reaccord("blind", STUDY, "--key", key)
    assert (ended.code, key.read_bytes()) == (2, before)
    assert "must keep its key" in ended.err


def test_the_record_tells_two_formulas_apart_and_leaves_out_a_line_cut_short(tmp_path: Path) -> None:
    log, other = tmp_path / "runs.jsonl", tmp_path / "other.csv"
    reaccord("compare", STUDY, FORMULA, "--log", log)
    lines = FORMULA.read_text(encoding="utf-8").splitlines()
    other.write_text("\n".join(lines[:-1]) + "\n", encoding="utf-8")
    with log.open("a", encoding="utf-8") as stream:
        stream.write('{"time": "2026-11-2')
    reaccord("compare", STUDY, other, "--log", log, "--note", "without the last")
    reaccord("compare", STUDY, tmp_path / "none.csv", "--log", log)
    data = reaccord("history", log, "--between", "1,2", "--output", "json").json["data"]
    assert (len(data["events"]), data["unread"]) == (3, 1)
    (gone,) = data["between"]["changes"]
    assert (gone["material"], gone["to_g"]) == (lines[-1].split(",")[0], 0.0)
    assert data["events"][1]["note"] == "without the last"
    assert "cut short" in reaccord("history", log).out
    assert "run 1 g" in reaccord("history", log, "--between", "1,2").out
    rows = list(csv.DictReader(reaccord("history", log, "--output", "csv").out.splitlines()))
    assert [row["command"] for row in rows] == ["compare"] * 3
    assert "no such file" in rows[2]["verdict"]
    assert "has no formula" in reaccord("history", log, "--between", "1,3").err
    assert "from 1 to 3" in reaccord("history", log, "--between", "1,9").err
    assert "is it a file that --log wrote" in reaccord("history", FORMULA).err
