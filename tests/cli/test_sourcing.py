"""`sourcing` from words to JSON, CSV and text."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from tests.cli.process import reaccord
from tests.studies import folder

TARGET = "constituent,G1\ngeraniol,60\ncitronellol,30\nlinalool,10"
CATALOGUE = "material,constituent,purity,pack_g,pack_price\nLin,linalool,97,10,5\nLin,linalool,97,100,30\n"


def test_words_to_json(tmp_path: Path) -> None:
    study, catalogue = folder(tmp_path, target=TARGET), tmp_path / "buy.csv"
    catalogue.write_text(CATALOGUE, encoding="utf-8")
    ended = reaccord("sourcing", study, "--catalogue", catalogue, "--most", "2", "--output", "json")
    assert (ended.code, ended.json["status"], ended.err) == (0, "proven", "")
    data = ended.json["data"]
    (one,) = data["candidates"]
    assert {"name", "value_with", "gain", "price", "skipped"} <= one.keys()
    assert (one["name"], one["price"], one["pack_g"], one["skipped"]) == ("Lin", 5, 10, False)
    assert one["gain"] == data["value"] - one["value_with"]
    assert one["gain_per_money"] == one["gain"] / 5
    assert [(best["count"], best["names"]) for best in data["best"]] == [(1, ["Lin"])]
    assert [file["file"] for file in data["inputs"]][-1] == "buy.csv"


def test_csv_and_text(tmp_path: Path) -> None:
    study = folder(tmp_path, target=TARGET)
    (row,) = csv.DictReader(io.StringIO(reaccord("sourcing", study, "--output", "csv").out))
    assert (row["name"], row["price"], row["skipped"]) == ("linalool", "", "no")
    ended = reaccord("sourcing", study)
    assert ended.out.splitlines()[0].endswith("with linalool 0.0 %, nothing else helps more as a single purchase.")


def test_a_catalogue_that_is_wrong_is_said_with_its_rows(tmp_path: Path) -> None:
    study, catalogue = folder(tmp_path, target=TARGET), tmp_path / "buy.csv"
    catalogue.write_text("material,constituent,purity,pack_price\nLin,linalool,,3\nOil,,,4\n", encoding="utf-8")
    ended = reaccord("sourcing", study, "--catalogue", catalogue)
    assert ended.code == 3
    assert "buy.csv, row 2, column purity: blank" in ended.err
    assert "buy.csv, row 2, column pack_g: blank; how many gram are in the pack? So too in row 3." in ended.err
    catalogue.write_text("material,price_per_kg\nOil,4\n", encoding="utf-8")
    ended = reaccord("sourcing", study, "--catalogue", catalogue)
    assert ended.code == 3
    assert 'buy.csv, row 2, column material: nothing says what "Oil" is made of' in ended.err
    assert reaccord("sourcing", study, "--catalogue", tmp_path / "none.csv").code == 3
    assert reaccord("sourcing", study, "--most", "0").code == 2


def test_ties_and_purchases_without_gain_are_said(tmp_path: Path) -> None:
    target = "constituent,G1\ngeraniol,70\ncitronellol,10\nlinalool,10\nnerol,10"
    ended = reaccord("sourcing", folder(tmp_path, target=target, settings={"limits": {"lines": 3}}))
    out = " ".join(ended.out.split())
    assert "with linalool 10.0 % (nerol as much), nothing else helps more as a single purchase." in out
    assert "A second bottle brings it no closer." in out
    ended = reaccord("sourcing", folder(tmp_path, target=target, settings={"limits": {"lines": 2}}))
    assert ended.code == 0
    assert "no bottle that could be bought makes it closer." in " ".join(ended.out.split())
