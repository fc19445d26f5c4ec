"""`cheapest` and `frontier` on the garden geranium, as people and scripts meet them."""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ET
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from tests.cli.process import EXAMPLE, Ended, reaccord, run_python

STUDY = EXAMPLE / "study.toml"


@pytest.fixture(scope="session")
def curve(tmp_path_factory: pytest.TempPathFactory) -> tuple[Ended, Path]:
    """`frontier` on the example: the JSON and the picture of one run."""
    picture = tmp_path_factory.mktemp("curve") / "curve.svg"
    return reaccord("frontier", STUDY, "--points", "6", "--output", "json", "--out", picture), picture


@pytest.fixture(scope="session")
def cheaper() -> Ended:
    return reaccord("cheapest", STUDY, "--within", "5 %", "--output", "json")


def test_cheapest_has_the_keys_of_the_interface(cheaper: Ended, fitted: Ended) -> None:
    envelope, closest = cheaper.json, fitted.json["data"]
    assert (cheaper.code, envelope["status"], envelope["command"]) == (0, "proven", "cheapest")
    data = envelope["data"]
    wanted = {"closest", "within", "formula", "totals", "deviation", "residuals", "saved_per_kg"}
    assert wanted | {"bound_cost_per_kg", "changes"} <= set(data)
    assert set(data["closest"]) == {"value", "cost_per_kg"}
    assert closest["deviation"]["shortened"] is not None, "the reference is the closest formula, not the shortened one"
    assert data["closest"]["value"] == pytest.approx(closest["deviation"]["before_rounding"], rel=1e-4)
    assert data["closest"]["value"] < closest["deviation"]["value"]
    assert data["within"] == pytest.approx(1.05 * data["closest"]["value"])
    assert all({"material", "from_g", "to_g"} <= set(change) for change in data["changes"])


def test_cheapest_keeps_its_word(cheaper: Ended) -> None:
    data = cheaper.json["data"]
    cost = data["totals"]["cost_per_kg"]
    assert data["deviation"]["value"] <= data["within"] * (1 + 1e-9)
    assert data["bound_cost_per_kg"] <= data["cost_per_kg_before_rounding"] <= data["bound_cost_per_kg"] * 1.0011
    assert cost == pytest.approx(data["cost_per_kg_before_rounding"], rel=2e-3)
    assert data["saved_per_kg"] == pytest.approx(data["closest"]["cost_per_kg"] - cost)
    assert all(row["held"] for row in data["limits"])


def test_cheapest_as_text_and_as_csv_that_reads_back(tmp_path: Path) -> None:
    formula = tmp_path / "cheap.csv"
    ended = reaccord("cheapest", STUDY, "--within", "0.2", "--gap", "0.05", "--quiet", "--out", formula)
    assert ended.code == 0
    assert "nothing as close can cost less than " in " ".join(ended.out.split("\n\n")[0].split())
    assert all(
        word in ended.out for word in ("Instead of the closest", "Spoilt", "Pour", "of at most 0.2, the closest has ")
    )
    judged = reaccord("compare", STUDY, formula, "--output", "json").json["data"]
    assert judged["deviation"]["value"] <= 0.2 * (1 + 1e-9)


@pytest.mark.parametrize("word", ["5", "-1", "much", "-5 %"])
def test_within_that_is_none(word: str) -> None:
    ended = reaccord("cheapest", STUDY, f"--within={word}", "--seconds", "5", "--gap", "0.5")
    if word == "5":  # a deviation of 5: everything is allowed
        assert ended.code in {0, 5}
        assert "So much is hardly a limit: pouring nothing deviates by 1.117." in ended.out
    else:
        assert ended.code == 2
        assert "--within" in ended.err


def test_closer_than_possible() -> None:
    ended = reaccord("cheapest", STUDY, "--within", "0.01", "--output", "json")
    assert (ended.code, ended.json["status"]) == (4, "infeasible")
    assert "deviation of 0.01 or less" in ended.json["errors"][0]["message"]


def test_frontier_has_the_keys_of_the_interface(curve: tuple[Ended, Path]) -> None:
    ended, _ = curve
    envelope = ended.json
    assert (ended.code, envelope["status"], envelope["command"]) == (0, "proven", "frontier")
    data = envelope["data"]
    assert {"against", "points", "knee"} <= set(data)
    for point in data["points"]:
        assert {"cost_per_kg", "value", "bound", "gap", "status", "formula"} <= set(point)
        assert point["status"] == "proven"
    knee = data["points"][data["knee"]["point"]]
    assert data["knee"]["cost_per_kg"] == knee["cost_per_kg"]


def test_the_curve_is_monotone_and_every_point_is_verified(curve: tuple[Ended, Path]) -> None:
    import reaccord as library
    from reaccord.domain.stock import StockKey

    study = library.load_study(STUDY)
    points = curve[0].json["data"]["points"]
    assert len(points) > 4
    for one, other in pairwise(points):
        assert one["cost_per_kg"] < other["cost_per_kg"]
        assert one["value"] > other["value"]
    for point in points:
        keys = ("material", "strength", "carrier", "lot")
        judged = library.judge(study, {StockKey(*(line[k] for k in keys)): line["grams"] for line in point["formula"]})
        assert judged.closeness.value == pytest.approx(point["value"], rel=1e-9)
        assert judged.totals.cost_per_kg == pytest.approx(point["cost_per_kg"], rel=1e-9)
        assert {state.label for state in judged.broken} == ({"cost"} if point["cost_per_kg"] > 155 else set())
        assert point["bound"] <= point["before_rounding"]


@pytest.mark.sweep
@pytest.mark.quick
def test_the_ends_are_what_fit_and_cheapest_find(
    curve: tuple[Ended, Path], fitted: Ended, changed: Callable[[str, str], Path]
) -> None:
    data = curve[0].json["data"]
    points = data["points"]
    (own,) = [point for point in points if abs(point["cost_per_kg"] - 155) < 0.1]
    assert data["own_limit"] == 155
    same = "before_rounding"  # the curve is of the closest, `fit` pours a shorter one
    assert own[same] == pytest.approx(fitted.json["data"]["deviation"][same], rel=1e-3)
    free = changed("cost_per_kg = 155 ", "# ")
    closest = reaccord("fit", free, "--output", "json").json["data"]
    assert points[-1][same] == pytest.approx(closest["deviation"][same], rel=1e-3)
    within = repr(data["begins"])
    cheap: dict[str, Any] = reaccord("cheapest", free, "--within", within, "--output", "json").json["data"]
    assert points[0]["cost_per_kg"] == pytest.approx(cheap["cost_per_kg_before_rounding"], rel=2e-3)
    assert data["least"] == pytest.approx(cheap["bound_cost_per_kg"], rel=2e-3)


def test_the_picture_has_a_title_and_units(curve: tuple[Ended, Path]) -> None:
    root = ET.parse(curve[1]).getroot()
    words = " ".join(text.strip() for text in root.itertext())
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert "Garden geranium, lot G7: closeness against cost per kg" in words
    assert "cost per kg of accord" in words
    assert "wrong substance, % of the accord" in words


def test_lines_as_csv_and_png(tmp_path: Path) -> None:
    assert reaccord("new", tmp_path / "own").code == 0
    picture = tmp_path / "curve.png"
    study = tmp_path / "own" / "study.toml"
    ended = reaccord("frontier", study, "--against", "lines", "--quiet", "--output", "csv", "--out", picture)
    assert ended.code == 0, ended.err
    rows = list(csv.DictReader(io.StringIO(ended.out)))
    assert [int(row["lines"]) for row in rows] == list(range(int(rows[0]["lines"]), int(rows[-1]["lines"]) + 1))
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_an_axis_that_is_none() -> None:
    ended = reaccord("frontier", STUDY, "--against", "colour")
    assert ended.code == 2
    assert "It can be: cost, lines, carrier" in ended.err


def test_without_the_library_for_pictures(tmp_path: Path) -> None:
    hidden = "import sys; sys.modules['matplotlib'] = None\nfrom importlib import util\nfind = util.find_spec\n"
    hidden += "util.find_spec = lambda name, *more: None if name == 'matplotlib' else find(name, *more)\n"
    words = ["frontier", str(STUDY), "--out", str(tmp_path / "curve.svg")]
    ended = run_python("-c", f"{hidden}from reaccord.cli.main import run\nrun({words!r})")
    assert ended.code == 2
    assert "pip install 'reaccord[plots]'" in ended.err
