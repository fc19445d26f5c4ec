"""`origins` from words to JSON, CSV and text."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from tests.cli.process import reaccord
from tests.studies import folder

TARGET = "constituent,A,B,C\ngeraniol,60,50,1\ncitronellol,40,50,2"


def test_words_to_json_csv_and_text(tmp_path: Path) -> None:
    study = folder(tmp_path, target=TARGET, settings={"target": {"table": "target.csv", "samples": ["C"]}})
    words = ("origins", study, "A", "B", "--lines", "4")
    ended = reaccord(*words, "--output", "json")
    assert (ended.code, ended.json["status"], ended.err) == (0, "proven", "")
    data = ended.json["data"]
    assert {"rows", "base", "tails"} <= data.keys()
    assert all({"constituent", "first", "second", "difference"} == row.keys() for row in data["rows"])
    assert [tail["sample"] for tail in data["tails"]] == ["A", "B"]
    assert all({"sample", "formula", "deviation"} <= tail.keys() for tail in data["tails"])
    rows = list(csv.DictReader(io.StringIO(reaccord(*words, "--output", "csv").out)))
    assert {row["part"] for row in rows} == {"base", "A", "B"}
    text = reaccord(*words).out
    assert "A 0.0 % wrong (0.0 % by itself), B 0.0 % wrong (0.0 % by itself)" in " ".join(text.split())


def test_samples_that_are_not_there(tmp_path: Path) -> None:
    study = folder(tmp_path, target=TARGET, settings={"target": {"table": "target.csv", "samples": ["A"]}})
    assert reaccord("origins", study, "A", "A").code == 2
    ended = reaccord("origins", study, "A", "D")
    assert (ended.code, "D" in ended.err) == (3, True)
    bottles = "material,constituent,purity,stock_g\nGer,geraniol,100,9\nCit,citronellol,100,9"
    ended = reaccord("origins", folder(tmp_path, target=TARGET, bottles=bottles), "A", "B")
    assert (ended.code, "for both samples" in ended.err) == (4, True)
