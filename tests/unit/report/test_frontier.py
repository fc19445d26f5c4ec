"""A curve as people see it: text, CSV, picture. Red costs 10 and green 50 per kg, 60 to 40 are wanted; invented."""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ET
from dataclasses import replace
from typing import Any

import pytest
from tests.tiny_study import tiny

from reaccord.contract import NEARLY_ZERO
from reaccord.questions.frontier import Frontier, frontier
from reaccord.report.frontier import MOST_POINTS, OVER, frontier_csv, frontier_text
from reaccord.report.frontier_picture import frontier_picture
from reaccord.report.quantities import in_figures

WIDTH = 120


@pytest.fixture(scope="module")
def curve() -> Frontier:
    return frontier(tiny(limits={"cost_per_kg": 20}, fit={"scale": "equal"}))


def table(found: Frontier) -> list[str]:
    return frontier_text(found, WIDTH).split("\n\n")[1].splitlines()


def said(found: Frontier) -> str:
    return frontier_text(found, 1000)


def test_points_stand_below_each_other_and_marks_behind(curve: Frontier) -> None:
    heading, *rows = table(curve)
    assert heading.split() == ["cost", "per", "kg", "deviation", "gap", "wrong", "lines", "used"]
    for column in (0, 1):
        points = {row.index(row.split()[column]) + row.split()[column].index(".") for row in rows}
        assert len(points) == 1
    assert sum(row.endswith("the study's own limit") and OVER not in row for row in rows) == 1
    assert sum("knee" in row for row in rows) == 1
    assert [float(row.split()[0]) > 20.005 for row in rows] == [OVER in row for row in rows]


def test_where_it_begins_is_said(curve: Frontier) -> None:
    """Pouring nothing misses 0.6 and 0.4."""
    assert "is nearer than pouring nothing (deviation 0.52): the curve begins there." in said(curve)
    assert "has a deviation of 0.52 or less" in said(replace(curve, begins_at_nothing=False))


def test_of_many_points_the_ones_that_matter_are_shown(curve: Frontier) -> None:
    last = curve.points[-1]
    more = [replace(last, ceiling=100.0 + n, quantity=100.0 + n) for n in range(1, 200)]
    long = replace(curve, points=(*curve.points, *more))
    rows = table(long)[1:]
    assert 20 <= len(rows) <= MOST_POINTS
    assert rows[0].split()[0] == f"{curve.points[0].quantity:.2f}"
    assert rows[-1].split()[0] == "299.00"
    assert any("knee" in row for row in rows)
    assert any(row.endswith("the study's own limit") and OVER not in row for row in rows)
    left_out = len(long.points) - len(rows)
    assert f"{left_out} points between these left out; --output csv has them all." in frontier_text(long, WIDTH)
    assert len(frontier_csv(long).splitlines()) == 1 + len(long.points)


def test_csv_marks_the_knee_and_the_own_limit(curve: Frontier) -> None:
    rows = list(csv.DictReader(io.StringIO(frontier_csv(curve))))
    assert [row["mark"] == "knee" or row["mark"].startswith("knee;") for row in rows].index(True) == curve.knee
    assert [float(row["cost_per_kg"]) > 20 * (1 + 1e-6) for row in rows] == [OVER in row["mark"] for row in rows]
    assert sum("the study's own limit" in row["mark"] and OVER not in row["mark"] for row in rows) == 1


@pytest.mark.parametrize(
    ("values", "written"),
    [
        ((1.11382, 0.066817), ["1.11382", "0.06682"]),
        ((250.0, 12.0), ["250.00", "12.00"]),
        ((0.5, 0.0), ["0.5000", "0.0000"]),
        ((0.0,), ["0.000"]),
    ],
)
def test_deviations_have_the_decimals_of_the_least(values: Any, written: list[str]) -> None:
    assert in_figures(values, 4, NEARLY_ZERO) == written


@pytest.fixture
def words(curve: Frontier) -> str:
    pytest.importorskip("matplotlib", reason="needs matplotlib: pip install 'reaccord[plots]'")
    return " ".join(text.strip() for text in ET.fromstring(frontier_picture(curve, "svg")).itertext())


def test_the_picture_names_its_ends_its_knee_and_the_limit(curve: Frontier, words: str) -> None:
    assert curve.knee is not None
    assert f"curve begins, {curve.points[0].quantity:.2f}" in words
    assert f"closest, {curve.points[-1].quantity:.2f}" in words
    assert f"knee, {curve.points[curve.knee].quantity:.2f}" in words
    assert "the study's own limit, 20.00" in words
    assert "deviation (squares, equal; no unit), lower is closer" in words


def test_the_same_curve_is_the_same_picture(curve: Frontier, words: str) -> None:
    del words
    assert frontier_picture(curve, "svg") == frontier_picture(curve, "svg")
    assert frontier_picture(curve, "png").startswith(b"\x89PNG")


def test_a_title_with_dollar_signs_is_no_formula(curve: Frontier, words: str) -> None:
    del words
    settings = replace(curve.study.settings, title="Under $20 a kilo, not $x^{")
    drawn = frontier_picture(replace(curve, study=replace(curve.study, settings=settings)), "svg")
    assert "Under $20 a kilo, not $x^{" in " ".join(ET.fromstring(drawn).itertext())
