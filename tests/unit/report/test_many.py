from __future__ import annotations

import csv
import io
from typing import Any

from reaccord.report.many import counts, many_csv, many_text, row_of

EMPTY: dict[str, Any] = {
    "study": "a/study.toml",
    "sample": None,
    "status": "proven",
    "exit_code": 0,
    "value": 0.25,
    "bound": 0.2499,
    "gap": 0.0004,
    "cost_per_kg": 12.5,
    "formula": [{}, {}],
    "errors": [],
}
FINDING = {"code": "blank", "message": "blank; how pure?", "file": "bottles.csv", "row": 2, "column": "purity"}
NONE = {"value": None, "bound": None, "gap": None, "cost_per_kg": None, "formula": []}
WRONG = EMPTY | NONE | {"study": "b.toml", "status": "invalid_input", "exit_code": 3, "errors": [FINDING, FINDING]}


def test_the_table() -> None:
    rows = [row_of(0, EMPTY, taken_over=True), row_of(1, WRONG, taken_over=False)]
    assert many_text(rows, 100, ["Not all."]) == (
        "2 results: 1 proven, 1 invalid input; 1 of them taken over from an earlier run.\n\n"
        "Study         Status         Deviation  Closer at most  Cost per kg  Lines\n"
        "a/study.toml  proven              0.25          0.04 %        12.50      2\n"
        "b.toml        invalid input\n"
        "  bottles.csv, row 2, column purity: blank; how pure? (and 1 more finding)\n\n"
        "Not all.\n"
    )
    assert counts(rows) == {"proven": 1, "invalid_input": 1}


def test_samples_are_shown_where_there_are_any() -> None:
    rows = [row_of(0, EMPTY | {"sample": "G7"}, taken_over=False), row_of(1, WRONG, taken_over=False)]
    head, first = many_text(rows, 100).splitlines()[2:4]
    assert head.split()[:3] == ["Study", "Sample", "Status"]
    assert first.split()[:3] == ["a/study.toml", "G7", "proven"]


def test_nothing_at_all() -> None:
    assert many_text([], 80) == "0 results.\n"


def test_a_message_of_several_lines_is_one_sentence() -> None:
    finding = {"code": "no-formula", "message": "No formula fits:\n  cost\n  lines", "file": None, "row": None}
    row = row_of(0, WRONG | {"errors": [finding | {"column": None}]}, taken_over=False)
    assert row.error == "No formula fits: cost; lines"


def test_csv_keeps_every_digit() -> None:
    rows = list(csv.DictReader(io.StringIO(many_csv([row_of(0, EMPTY, taken_over=False), row_of(1, WRONG, False)]))))
    assert rows[0] == {
        "study": "a/study.toml",
        "sample": "",
        "status": "proven",
        "exit_code": "0",
        "value": "0.25",
        "bound": "0.2499",
        "gap": "0.04 %",
        "cost_per_kg": "12.5",
        "lines": "2",
        "error": "",
    }
    assert (rows[1]["value"], rows[1]["gap"], rows[1]["lines"]) == ("", "", "0")
