"""`alternatives` from words to JSON, CSV and text."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from tests.cli.process import reaccord
from tests.studies import folder

BOTTLES = "material,constituent,purity\nGer,geraniol,100\nGer two,geraniol,99\nCit,citronellol,100\nRoh,citronellol,98"


def test_words_to_json_and_csv(tmp_path: Path) -> None:
    study = folder(tmp_path, bottles=BOTTLES)
    words = ("alternatives", study, "--within", "0.01", "--count", "2", "--bottles", "1", "--ranges", "cit")
    ended = reaccord(*words, "--output", "json")
    assert (ended.code, ended.json["status"], ended.err) == (0, "proven", "")
    data = ended.json["data"]
    assert {"within", "formulas", "ranges"} <= data.keys()
    assert data["within"] == 0.01
    assert all({"value", "formula"} <= one.keys() for one in data["formulas"])
    assert [one["material"] for one in data["ranges"]] == ["Cit"]
    assert {"least_g", "most_g"} <= data["ranges"][0].keys()
    names = [{line["material"] for line in one["formula"]} for one in data["formulas"]]
    assert len(names) == 3
    assert all(not names[0] <= other for other in names[1:])
    rows = list(csv.DictReader(io.StringIO(reaccord(*words, "--output", "csv").out)))
    assert {row["formula"] for row in rows} == {"0", "1", "2"}


def test_text_and_words_that_are_wrong(tmp_path: Path) -> None:
    study = folder(tmp_path, bottles=BOTTLES)
    ended = reaccord("alternatives", study, "--within", "0.01", "--count", "9", "--ranges", "none")
    assert "No other formula from these 4 bottles so near does without 2 bottles of each of these." in ended.out
    assert reaccord("alternatives", study).code == 2
    assert reaccord("alternatives", study, "--within", "0.01", "--bottles", "0").code == 2
    ended = reaccord("alternatives", study, "--within", "0.01", "--ranges", "Gar")
    assert (ended.code, '--ranges: no bottle is called "Gar".' in ended.err) == (2, True)


def test_mass_moved_from_words_to_json_and_text(tmp_path: Path) -> None:
    study = folder(tmp_path, bottles=BOTTLES)
    words = ("alternatives", study, "--within", "0.01", "--count", "1", "--ranges", "none", "--moved")
    data = reaccord(*words, "30 %", "--output", "json").json["data"]
    assert (data["moved"], data["moved_g"], data["bottles"]) == (0.3, None, 0)
    assert data["formulas"][1]["moved"][0] >= 0.2995
    data = reaccord(*words, "3 g", "--bottles", "1", "--output", "json").json["data"]
    assert (data["moved"], data["moved_g"], data["bottles"]) == (None, 3.0, 1)
    out = " ".join(reaccord(*words, "30 %").out.split())
    assert "1 other formula is no more than" in out
    assert "and moves 30 % of its mass." in out
    for wrong in ("30", "0 g", "three g", "120 %"):
        assert reaccord(*words, wrong).code == 2
