"""A curve as people see it: text, CSV, picture. Red costs 10 and green 50 per kg, 60 to 40 are wanted; invented."""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from tests.tiny_study import tiny

from reaccord.questions.axis import Cost
from reaccord.questions.curve import Frontier
from reaccord.questions.frontier import frontier
from reaccord.report.frontier import MOST_POINTS, OVER, frontier_csv, frontier_text
from reaccord.report.frontier_picture import frontier_picture

WIDTH, MANY = 120, 1000


@pytest.fixture(scope="module")
def curve() -> Frontier:
    """Return a parabola, evenly bent: one point is called a knee to see it."""
    found = frontier(tiny(limits={"cost_per_kg": 20}, fit={"scale": "equal"}), points=MANY)
    assert found.knee is None
    return replace(found, knee=len(found.points) // 2)


def table(found: Frontier) -> list[str]:
    return frontier_text(found, WIDTH).split("\n\n")[1].splitlines()


def said(found: Frontier) -> str:
    return frontier_text(found, 1000)


def test_points_stand_below_each_other_and_marks_behind(curve: Frontier) -> None:
    heading, *rows = table(curve)
    assert heading.split() == ["cost", "per", "kg", "wrong", "%", "unnamed", "%", "lines", "used"]
    assert [float(row.split()[1]) for row in rows][-1] == 0
    for column in (0, 1):
        points = {row.index(row.split()[column]) + row.split()[column].index(".") for row in rows}
        assert len(points) == 1
    assert sum(row.endswith("  the study's limit") for row in rows) == 1
    assert sum("knee" in row for row in rows) == 1
    assert [float(row.split()[0]) > 20.005 for row in rows] == ["over the study's limit" in row for row in rows]


def test_where_it_begins_is_said(curve: Frontier) -> None:
    """Pouring nothing misses 0.6 and 0.4."""
    assert "is nearer to the target than an empty vial: the curve begins there." in said(curve)
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
    assert any(row.endswith("  the study's limit") for row in rows)
    left_out = len(long.points) - len(rows)
    assert f"{left_out} points between these left out; --output csv has them all." in frontier_text(long, WIDTH)
    assert len(frontier_csv(long).splitlines()) == 1 + len(long.points)


def test_csv_marks_the_knee_and_the_own_limit(curve: Frontier) -> None:
    rows = list(csv.DictReader(io.StringIO(frontier_csv(curve))))
    assert [row["mark"] == "knee" or row["mark"].startswith("knee;") for row in rows].index(True) == curve.knee
    assert [float(row["cost_per_kg"]) > 20 * (1 + 1e-6) for row in rows] == [OVER in row["mark"] for row in rows]
    assert sum("the study's own limit" in row["mark"] and OVER not in row["mark"] for row in rows) == 1


def test_the_verdict_says_what_is_wrong_at_the_ends(curve: Frontier) -> None:
    """Red alone is 40 % wrong, at 10 per kg; what has no gap, node or optimum to tell speaks of none."""
    verdict = said(curve).splitlines()[0]
    assert verdict.startswith("drawn: from 40.0 % wrong (cost per kg 10.0")
    assert " to 0.0 % (26.00), the closest; the knee of the curve is at " in verdict
    assert not {"gap", "nodes", "solver", "optimum"} & set(said(curve).split())
    assert "knee" not in said(replace(curve, knee=None))


def test_more_points_are_offered(curve: Frontier) -> None:
    few = replace(curve, covered=False)
    few = replace(few, most=len(curve.points) + 3)  # some that were found were no better than others
    assert f"--points {2 * len(curve.points) + 6} finds more." in said(few)
    assert "Not all that was asked for was found" in said(replace(few, status="feasible"))


@pytest.fixture
def words(curve: Frontier) -> str:
    pytest.importorskip("matplotlib", reason="needs matplotlib: pip install 'reaccord[plots]'")
    return " ".join(text.strip() for text in ET.fromstring(frontier_picture(curve, ".svg")).itertext())


def test_the_picture_names_its_ends_its_knee_and_the_limit(curve: Frontier, words: str) -> None:
    assert curve.knee is not None
    assert f"curve begins, {curve.points[0].quantity:.2f}" in words
    assert f"closest, {curve.points[-1].quantity:.2f}" in words
    assert f"knee, {curve.points[curve.knee].quantity:.2f}" in words
    assert "the study's own limit, 20.00" in words
    assert "wrong substance, % of the accord" in words


def test_the_same_curve_is_the_same_picture(curve: Frontier, words: str) -> None:
    del words
    assert frontier_picture(curve, ".svg") == frontier_picture(curve, ".svg")
    assert frontier_picture(curve, ".png").startswith(b"\x89PNG")


def test_dollar_signs_in_names_are_no_formula(curve: Frontier, words: str) -> None:
    del words
    settings = replace(curve.study.settings, title="Under $20 a kilo, not $x^{")
    axis = Cost()
    axis.label = "cost in $ per kg, not $_{"
    drawn = frontier_picture(replace(curve, axis=axis, study=replace(curve.study, settings=settings)), ".svg")
    words = " ".join(ET.fromstring(drawn).itertext())
    assert "Under $20 a kilo, not $x^{" in words
    assert "cost in $ per kg, not $_{ of accord" in words
