"""`dosage`: text, JSON, CSV, a list of one's own, a limit that is broken."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from tests.cli.process import EXAMPLE, reaccord
from tests.desk_studies import colours

STUDY, FORMULA = EXAMPLE / "study.toml", EXAMPLE / "formula_2025.csv"


def test_json_has_the_keys_of_the_interface() -> None:
    ended = reaccord("dosage", STUDY, "--formula", FORMULA, "--output", "json")
    data = ended.json["data"]
    assert {"products", "totals", "declaration", "tables", "cautions", "inputs", "formula"} <= set(data)
    assert {each["product"] for each in data["products"]} == {"candle", "hand soap"}
    for each in data["products"]:
        assert 0 <= each["highest_dosage"] <= each["concentrate"] <= each["poured"] <= 1
    for total in data["totals"]:
        assert total["share"] == pytest.approx(sum(source["share"] for source in total["sources"]))
        assert total["held"] == (total["share"] <= total["max"] * (1 + 1e-9))
    assert (ended.code == 4) == any(not total["held"] for total in data["totals"])
    assert {row["file"] for row in data["tables"]} == {"limits.csv", "declaration_eu.csv"}
    assert all(row["authority"] and row["date"] for row in data["tables"])
    assert any(entry["name"] == "Pelargonium Graveolens Flower Oil" for entry in data["declaration"])


def test_text_says_the_verdict_first_and_the_cautions_last() -> None:
    ended = reaccord("dosage", STUDY, "--formula", FORMULA, "--quiet")
    first, *_ = ended.out.split("\n\n")
    assert "of accord in hand soap" in first.replace("\n", " ")
    assert "Calculated, not analysed" in ended.out.split("\n\n")[-1]
    assert "declaration_eu.csv: EU Regulation (EC) 1223/2009" in ended.out


def test_csv_is_a_row_a_product() -> None:
    ended = reaccord("dosage", STUDY, "--formula", FORMULA, "--output", "csv", "--quiet")
    rows = list(csv.DictReader(ended.out.splitlines()))
    assert [row["product"] for row in rows] == ["candle", "hand soap"]
    assert all(row["highest_dosage"].endswith("%") for row in rows)


def test_a_list_of_ones_own(tmp_path: Path) -> None:
    own = tmp_path / "ours.csv"
    own.write_text(
        "label_name,kind,cas,leave_on,rinse_off,authority,edition,date\n"
        "Citronellol,substance,106-22-9,0.1,0.1,house (invented),2,2026-01-01\n",
        encoding="utf-8",
    )
    data = reaccord("dosage", STUDY, "--formula", FORMULA, "--declaration", own, "--output", "json").json["data"]
    (entry,) = data["declaration"]
    assert (entry["name"], entry["threshold"], entry["listed"]) == ("Citronellol", 0.001, True)
    assert {"file": "ours.csv", "authority": "house (invented)", "edition": "2", "date": "2026-01-01"} in data["tables"]
    own.write_text("label_name,kind,cas,rinse_off\nCitronellol,substance,106-22-9,0.1\n", encoding="utf-8")
    ended = reaccord("dosage", STUDY, "--formula", FORMULA, "--declaration", own, "--quiet")
    assert "ours.csv: it names no authority, edition or date." in ended.out
    own.write_text(
        "label_name,kind,cas,leave_on,rinse_off\nCitronellol,substance,106-22-9,0.1,\nCitral,prohibited,5392-40-5,,\n"
        "Geraniol,substance,106-24-1,,0\n",
        encoding="utf-8",
    )
    ended = reaccord("dosage", STUDY, "--formula", FORMULA, "--declaration", own, "--output", "json")
    (asked,) = ended.json["errors"]
    assert (ended.code, asked["code"], asked["row"], asked["column"]) == (3, "blank", 2, "rinse_off")
    assert "from how much on does the label of a rinse-off product name Citronellol? Write" in asked["message"]
    bad = tmp_path / "bad.csv"
    bad.write_text("label_name,kind\nCitronellol,stuff\n", encoding="utf-8")
    ended = reaccord("dosage", STUDY, "--formula", FORMULA, "--declaration", bad)
    assert ended.code == 3
    assert 'bad.csv, row 2, column kind: "stuff" is none of substance, natural, prohibited' in ended.err


def test_without_rules_and_dosage_it_says_what_is_missing(study: Path) -> None:
    lines = study.read_text(encoding="utf-8").splitlines()
    kept = [
        line
        for line in lines
        if line.split(" ")[0] not in {"table", "product", "dosage", "use"} or "target.csv" in line
    ]
    study.write_text("\n".join(kept), encoding="utf-8")
    ended = reaccord("dosage", study, "--formula", FORMULA, "--quiet")
    assert ended.code == 0
    assert "no table of restricted substances is named" in ended.out.replace("\n", " ")
    assert 'state limits.dosage and limits.use ("leave-on" or "rinse-off")' in ended.out.replace("\n", " ")
    study.write_text("\n".join(kept).replace("[limits]", '[limits]\nuse = "leave-on"'), encoding="utf-8")
    ended = reaccord("dosage", study, "--formula", FORMULA, "--quiet")
    assert "What to declare: state limits.dosage." in ended.out


def test_a_ratio_stands_there_as_fit_shows_it(tmp_path: Path) -> None:
    """Of 1, in the same figures, what it is and what it may be."""
    study = colours(tmp_path / "study")
    shown = [
        next(line.split() for line in reaccord(command, study, "--quiet").out.splitlines() if line.startswith("Share"))
        for command in ("fit", "dosage")
    ]
    assert shown[0][1:] == [shown[1][3], "1.000", "of", "1"]
    assert shown[1][:5] == ["Share", "(of", "1)", shown[0][1], "1.000"]
