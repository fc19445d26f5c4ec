"""Which warnings a screen tells: all in `check`, elsewhere what changes what the result means. All invented."""

from __future__ import annotations

from reaccord.cli.remarks import MOST_ALIKE, told
from reaccord.findings import Finding, Findings, Place


def warning(code: str, cells: int = 1, file: str = "bottles.csv") -> Finding:
    return Finding("warning", code, f"said of {code}.", Place(file, 2, "share"), cells)


def test_how_cells_were_read_is_one_line() -> None:
    lines = list(told("fit", [warning("taken-as", 80), warning("fraction", 3), warning("left-out")], "my study.toml"))
    assert lines == ["84 cells read with a remark: reaccord check 'my study.toml'"]
    assert list(told("fit", [warning("fraction")], "s.toml")) == ["1 cell read with a remark: reaccord check s.toml"]


def test_check_tells_each() -> None:
    found = [warning("taken-as", 80), warning("maybe-same")]
    assert list(told("check", found, "s.toml")) == [f"warning: {finding}" for finding in found]


def test_what_changes_the_meaning_keeps_its_line_briefly() -> None:
    asked = [warning("maybe-same") for _ in range(MOST_ALIKE + 2)]
    lines = list(told("fit", [warning("sum-or-members"), *asked, warning("taken-as")], "s.toml"))
    assert lines[0] == "warning: bottles.csv, row 2, column share: said of sum-or-members."
    assert lines[1 : 1 + MOST_ALIKE] == [f"warning: {asked[0]}"] * MOST_ALIKE
    assert lines[1 + MOST_ALIKE :] == [
        "2 more such warnings: reaccord check s.toml",
        "1 cell read with a remark: reaccord check s.toml",
    ]


def test_one_line_more_is_told_rather_than_counted() -> None:
    asked = [warning("maybe-same") for _ in range(MOST_ALIKE + 1)]
    assert list(told("fit", asked, "s.toml")) == [f"warning: {asked[0]}"] * (MOST_ALIKE + 1)


def test_a_formula_s_own_remarks_are_told_since_check_does_not_read_it() -> None:
    lines = list(told("compare", [warning("taken-as", file="mine.csv"), warning("taken-as")], "s.toml", {"mine.csv"}))
    assert lines[0].startswith("warning: mine.csv, row 2")
    assert lines[1] == "1 cell read with a remark: reaccord check s.toml"


def test_without_a_study_nothing_is_pointed_to() -> None:
    assert list(told("fit", [warning("taken-as")], "")) == [f"warning: {warning('taken-as')}"]


def test_cells_of_one_cause_are_counted() -> None:
    findings = Findings()
    findings.warn_once("fraction", [(Place("a.csv", row, "purity"), "taken as percent") for row in range(2, 9)])
    assert [finding.cells for finding in findings.told("warning")] == [7]
    for row in (2, 3):
        findings.warn("bad-cell", f'"{row}" is read so.', Place("b.csv", row, "share"))
    assert [finding.cells for finding in findings.told("warning")] == [7, 2]
