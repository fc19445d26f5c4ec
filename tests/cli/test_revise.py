"""`revise` from words to JSON and text."""

from __future__ import annotations

from pathlib import Path

from tests.cli.process import reaccord
from tests.studies import folder

BOTTLES = "material,constituent,purity\nGer,geraniol,100\nCit,citronellol,100\nRoh,citronellol,100"
FORMULA = "material,grams\nGer,6\nCit,4\n"


def files(where: Path) -> tuple[Path, Path]:
    formula = where / "use.csv"
    formula.write_text("material,grams\nGer,7\nCit,3\n", encoding="utf-8")
    return folder(where, bottles=BOTTLES), formula


def test_words_to_json(tmp_path: Path) -> None:
    study, formula = files(tmp_path)
    ended = reaccord("revise", study, formula, "--without", "Cit", "--changes", "3", "--output", "json")
    assert (ended.code, ended.json["status"], ended.err) == (0, "proven", "")
    data = ended.json["data"]
    assert {"formula", "moves", "deviation", "moved"} <= data.keys()
    assert all({"material", "from_g", "to_g", "gain"} <= move.keys() for move in data["moves"])
    assert {(m["material"], m["from_g"], round(m["to_g"], 6)) for m in data["moves"]} == {
        ("Cit", 3.0, 0.0),
        ("Ger", 7.0, 6.0),
        ("Roh", 0.0, 4.0),
    }
    assert data["deviation"]["in_use"] > data["deviation"]["value"]
    assert [file["file"] for file in data["inputs"]][-1] == "use.csv"


def test_text_and_csv_that_reads_back(tmp_path: Path) -> None:
    study, formula = files(tmp_path)
    ended = reaccord("revise", study, formula, "--moved", "5 %", "--out", tmp_path / "new.csv")
    assert "5.0 % of the neat mass moved." in ended.out
    assert "in use 10.0 % wrong" in " ".join(ended.out.split())
    assert reaccord("compare", study, tmp_path / "new.csv").code == 0


def test_codes_of_what_cannot_be(tmp_path: Path) -> None:
    study, formula = files(tmp_path)
    assert reaccord("revise", study, formula).code == 2
    assert reaccord("revise", study, formula, "--moved", "5").code == 2
    ended = reaccord("revise", study, formula, "--without", "Cti", "--changes", "2")
    assert ended.code == 3
    assert '--without: no bottle is called "Cti".' in ended.err
    ended = reaccord("revise", study, formula, "--without", "Cit", "--moved", "10 %")
    assert ended.code == 4
    assert "It takes at least 30 % moved." in ended.err
