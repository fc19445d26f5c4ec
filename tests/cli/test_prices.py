"""`fit --prices`: what it prints of a changed study is what `fit` prints of that."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.cli.process import reaccord
from tests.studies import folder

TARGET = "constituent,G1\ngeraniol,50\ncitronellol,20\nlinalool,20\nnerol,10"
BOTTLES = "material,constituent,purity,price_per_kg\nGeraniol,geraniol,100,100\nCitronellol,citronellol,100,20\n"


def written(where: Path, cost: float) -> Path:
    where.mkdir()
    bottles = BOTTLES + "Linalool,linalool,100,10"
    return folder(where, target=TARGET, bottles=bottles, settings={"limits": {"cost_per_kg": cost}})


def test_a_row_is_what_fit_says_of_the_study_changed_so(tmp_path: Path) -> None:
    study = written(tmp_path / "now", 40)
    data = reaccord("fit", study, "--prices", "--output", "json").json["data"]
    cost = next(row for row in data["prices"] if row["kind"] == "cost")
    assert cost["now"] == 40
    assert cost["gain"] == pytest.approx(data["deviation"]["value"] - cost["without"]["value"])
    step = cost["step"]
    moved = reaccord("fit", written(tmp_path / "moved", step["limit"]), "--output", "json").json["data"]
    assert moved["deviation"]["value"] == pytest.approx(step["value"], rel=0.01)
    assert step["value"] < data["deviation"]["value"]
    assert (data["missing"]["constituent"], data["unasked"]) == ("nerol", [])


def test_what_was_not_asked_in_time_is_named(tmp_path: Path) -> None:
    ended = reaccord("fit", written(tmp_path / "now", 40), "--prices", "--seconds", "0.001")
    assert "Not asked in the time given: " in ended.out
    assert "what is not on the shelf" in ended.out
