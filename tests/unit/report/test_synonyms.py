"""The names that were asked about, as a constituents table."""

from __future__ import annotations

from tests.random_studies import Draft
from tests.tiny_study import RED, tiny

from reaccord.report.synonyms import synonyms_csv

ROWS = {"red": "50", "A-Humulene": "20", "α-humulen": "10", "farnesene": "20"}


def test_each_name_stands_beside_whom_it_may_mean() -> None:
    assert synonyms_csv(tiny(rows=ROWS)) == (
        "constituent,synonyms\nalpha-farnesene,farnesene\nalpha-humulene,A-Humulene;α-humulen\nbeta-farnesene,farnesene\n"
    )


def test_nothing_is_asked_about_nothing_is_written() -> None:
    assert synonyms_csv(tiny()) == "constituent,synonyms\n"


def test_what_is_confirmed_is_known() -> None:
    tables = {
        "target.csv": [{"constituent": name, "analysis": "50"} for name in ("red", "A-Humulene")],
        "bottles.csv": [RED],
        "constituents.csv": [{"constituent": "alpha-humulene", "synonyms": "A-Humulene"}],
    }
    shelf = {"bottles": "bottles.csv", "constituents": "constituents.csv"}
    settings = {"target": {"table": "target.csv"}, "shelf": shelf, "batch": {"accord_g": 10}}
    study = Draft(settings, tables).study()
    assert study.asked == {}
    assert {name for row in study.target.rows for name in row.members} >= {"alpha-humulene"}
