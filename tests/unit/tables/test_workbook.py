"""Sheets of a workbook: read as a person sees them, or refused with the cell named."""

from __future__ import annotations

import datetime
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from reaccord.findings import Findings
from reaccord.tables.raw import RawTable
from reaccord.tables.read import read_formula, read_poured
from reaccord.tables.target_table import target_lines
from reaccord.tables.workbook import is_sheet, sheet_of_bytes


def book(folder: Path, rows: list[list[Any]], title: str = "target") -> Any:
    made = openpyxl.Workbook()
    sheet = made.active
    assert sheet is not None
    sheet.title = title
    for row in rows:
        sheet.append(row)
    return made


def read(folder: Path, made: Any, name: str = "b.xlsx#target") -> tuple[RawTable | None, list[str]]:
    made.save(folder / "b.xlsx")
    findings = Findings()
    found = sheet_of_bytes((folder / "b.xlsx").read_bytes(), name, findings)
    return found, [str(finding) for finding in findings]


ROWS: list[list[Any]] = [["constituent", "G7", "weight"], ["geraniol", 12.5, 2], ["linalool", "tr", None]]


def test_numbers_text_and_blanks(tmp_path: Path) -> None:
    raw, said = read(tmp_path, book(tmp_path, ROWS))
    assert said == []
    assert raw is not None
    assert raw.headings == ("constituent", "G7", "weight")
    assert raw.rows == (
        (2, {"constituent": "geraniol", "G7": "12.5", "weight": "2"}),
        (3, {"constituent": "linalool", "G7": "tr", "weight": ""}),
    )


def test_what_a_format_shows(tmp_path: Path) -> None:
    made = book(tmp_path, [["a", "b", "c", "d"], [0.125, datetime.datetime(2026, 3, 1), True, 1e-05]])
    made.active["A2"].number_format = "0.0%"
    raw, _ = read(tmp_path, made)
    assert raw is not None
    assert raw.rows[0][1] == {"a": "12.5 %", "b": "2026-03-01", "c": "yes", "d": "0.00001"}


def test_rows_keep_the_numbers_of_the_sheet(tmp_path: Path) -> None:
    raw, _ = read(tmp_path, book(tmp_path, [["a"], [None], ["x"]]))
    assert raw is not None
    assert [line for line, _ in raw.rows] == [3]


def test_a_lone_sheet_needs_no_name(tmp_path: Path) -> None:
    raw, said = read(tmp_path, book(tmp_path, ROWS), "b.xlsx")
    assert raw is not None
    assert said == []


def test_an_unknown_sheet_lists_those_there(tmp_path: Path) -> None:
    raw, said = read(tmp_path, book(tmp_path, ROWS), "b.xlsx#targets")
    assert raw is None
    assert said == ['b.xlsx: no sheet "targets". The workbook has: b.xlsx#target.']


def test_of_a_result_the_sheet_is_read_that_is_meant(tmp_path: Path) -> None:
    """A formula from `formula`, what was poured from `weigh`; a workbook that has none of that name is asked about."""
    made = book(tmp_path, [["material", "grams"], ["Oil", 2]], "formula")
    made.create_sheet("weigh").append(["material", "grams", "poured_g"])
    made["weigh"].append(["Oil", 2, 3.5])
    made.save(tmp_path / "b.xlsx")
    findings = Findings()
    formula, poured = (reader(tmp_path / "b.xlsx", findings) for reader in (read_formula, read_poured))
    assert formula is not None
    assert poured is not None
    assert [line.grams for line in (*formula[0], *poured[0])] == [2, 3.5]
    _, said = read(tmp_path, made, "b.xlsx")
    assert said == ["b.xlsx: which sheet? The workbook has: b.xlsx#formula, b.xlsx#weigh."]


def test_cells_merged_down_a_column_mean_each_of_them(tmp_path: Path) -> None:
    made = book(
        tmp_path, [["material", "part", "share"], ["Oil", "geraniol", 40], [None, "nerol", 30], ["Base", "x", 1]]
    )
    made.active.merge_cells("A2:A3")
    raw, said = read(tmp_path, made)
    assert said == []
    assert raw is not None
    assert [row["material"] for _, row in raw.rows] == ["Oil", "Oil", "Base"]


def test_a_title_merged_over_the_columns_is_one_and_a_heading_spans_its_own(tmp_path: Path) -> None:
    made = book(
        tmp_path,
        [["Two lots", None, None], ["constituent", "Area (%)", None], [None, "G7", "G8"], ["geraniol", 12.5, "tr"]],
    )
    made.active.merge_cells("A1:C1")
    made.active.merge_cells("B2:C2")
    raw, said = read(tmp_path, made)
    assert said == ['b.xlsx#target, row 1: 1 row above the headings left out: "Two lots".']
    assert raw is not None
    assert (raw.headings, raw.over["G8"], raw.top) == (("constituent", "G7", "G8"), ("Area (%)",), 2)
    assert raw.rows == ((4, {"constituent": "geraniol", "G7": "12.5", "G8": "tr"}),)


@pytest.mark.parametrize("value", [12.5, "tr", "12.5 ± 0.1"])
def test_a_value_merged_over_columns_is_asked_about(tmp_path: Path, value: Any) -> None:
    made = book(tmp_path, [["constituent", "G7", "G8"], ["geraniol", value, None], ["linalool", 1, 2]])
    made.active.merge_cells("B2:C2")
    _, said = read(tmp_path, made)
    assert said == [
        "b.xlsx#target, row 2: the cells B2:C2 are merged over columns. Unmerge them and write the value into each."
    ]


@pytest.mark.parametrize(
    ("stray", "end"),
    [("C1048576", "C1048576"), ("A1048576", "C1048576"), ("XFD40", "XFD40")],
)
def test_a_stray_cell_far_off_is_said_at_once(tmp_path: Path, stray: str, end: str) -> None:
    """The end is where a spreadsheet says that the sheet ends, too."""
    made = book(tmp_path, ROWS)
    made.active[stray] = "x"
    raw, said = read(tmp_path, made)
    assert raw is None
    assert said == [
        f"b.xlsx: a sheet goes as far as {end}, though few of its cells are filled. Delete what stands so far off."
    ]


@pytest.mark.parametrize("ranges", [["A1:XFD1048576"], [f"A{n}:B{n}" for n in range(1, 30_000)]])
def test_merged_cells_beyond_measure_are_said_at_once(tmp_path: Path, ranges: list[str]) -> None:
    book(tmp_path, ROWS).save(tmp_path / "plain.xlsx")
    merged = "".join(f'<mergeCell ref="{found}"/>' for found in ranges)
    with (
        zipfile.ZipFile(tmp_path / "plain.xlsx") as old,
        zipfile.ZipFile(tmp_path / "b.xlsx", "w") as new,
    ):
        for item in old.namelist():
            content = old.read(item).decode()
            if item.endswith("sheet1.xml"):
                assert "</sheetData>" in content
                content = content.replace("</sheetData>", f"</sheetData><mergeCells>{merged}</mergeCells>")
            new.writestr(item, content)
    findings = Findings()
    assert sheet_of_bytes((tmp_path / "b.xlsx").read_bytes(), "b.xlsx#target", findings) is None
    text = "has more than 5000 merged cells. Unmerge them, or save the sheet that is meant as CSV."
    assert [(f.code, str(f)) for f in findings] == [("file-too-large", f"b.xlsx: {text}")]


def test_hidden_rows_columns_and_sheets_are_refused(tmp_path: Path) -> None:
    made = book(tmp_path, ROWS)
    made.active.row_dimensions[3].hidden = True
    made.active.column_dimensions["C"].hidden = True
    _, said = read(tmp_path, made)
    assert said == [
        "b.xlsx#target, row 3: row 3 is hidden. Show it or delete it.",
        "b.xlsx#target, row 1: column C is hidden. Show it or delete it.",
    ]
    flat = book(tmp_path, ROWS)
    flat.active.row_dimensions[3].height = 0.1
    flat.active.column_dimensions["C"].width = 0.01
    assert read(tmp_path, flat)[1] == said, "nobody sees what has no height or width"
    hidden = book(tmp_path, ROWS)
    hidden.create_sheet("other")
    hidden["target"].sheet_state = "hidden"
    _, said = read(tmp_path, hidden)
    assert said == ['b.xlsx: the sheet "target" is hidden. Show it or name another.']


def test_a_group_of_hidden_columns_is_refused_whole(tmp_path: Path) -> None:
    made = book(tmp_path, ROWS)
    made.active.column_dimensions.group("B", "C", hidden=True)
    _, said = read(tmp_path, made)
    assert said == [
        "b.xlsx#target, row 1: column B is hidden. Show it or delete it.",
        "b.xlsx#target, row 1: column C is hidden. Show it or delete it.",
    ]


def test_a_formula_that_was_never_worked_out_is_no_blank(tmp_path: Path) -> None:
    made = book(tmp_path, [["constituent", "G7"], ["geraniol", "=1+1"], ["Total", "=SUM(B2:B2)"]])
    raw, said = read(tmp_path, made)
    assert said == []
    assert raw is not None
    findings = Findings()
    target_lines(raw, findings)
    text = "a formula whose result the file does not hold. Open and save it, or write the value."
    assert [str(found) for found in findings.errors] == [f"b.xlsx#target, row 2, column G7: {text}"]


def test_error_values_are_refused(tmp_path: Path) -> None:
    made = book(tmp_path, [["a"], ["#N/A"]])
    made.active["A2"].data_type = "e"
    _, said = read(tmp_path, made)
    assert said == ["b.xlsx#target, row 2: A2 shows #N/A."]


def test_what_is_no_workbook() -> None:
    findings = Findings()
    assert sheet_of_bytes(b"constituent,G7\n", "b.xlsx#target", findings) is None
    (error,) = findings.errors
    assert error.code == "workbook"
    assert str(error).startswith("b.xlsx: not a proper .xlsx workbook (")


@pytest.mark.parametrize(("name", "answer"), [("a.xlsx#b", True), ("A.XLSX", True), ("a.csv", False), ("a.tsv", False)])
def test_which_names_are_sheets(name: str, answer: bool) -> None:
    assert is_sheet(name) is answer


def formatted(folder: Path, code: str, column: str = "G7") -> Any:
    made = book(folder, [["constituent", column], ["geraniol", 40], ["nerol", 30], ["linalool", 20]])
    for row in (2, 3):
        made.active.cell(row, 2).number_format = code
    return made


@pytest.mark.parametrize(("code", "cell"), [('0.0 "ppm"', "40 ppm"), ('0.0"‰"', "40 ‰"), (r"0.00\%", "40 %")])
def test_a_unit_in_the_number_format_is_read_as_shown(tmp_path: Path, code: str, cell: str) -> None:
    raw, said = read(tmp_path, formatted(tmp_path, code))
    assert said == []
    assert raw is not None
    assert [row["G7"] for _, row in raw.rows] == [cell, cell.replace("40", "30"), "20"]


def test_another_unit_in_the_number_format_is_refused_once_for_its_column(tmp_path: Path) -> None:
    raw, said = read(tmp_path, formatted(tmp_path, '0.0 "mg/kg"'))
    assert raw is None
    assert said == [
        'b.xlsx#target, row 2, column G7: the number format of B2 (and 1 more in column B), 0.0 "mg/kg", shows "mg/kg" '
        "beside the number. Format it as General; a unit of a share may be %, ‰ or ppm."
    ]


def test_gram_behind_gram_and_money_behind_prices(tmp_path: Path) -> None:
    for code, column in (('0.000 "g"', "stock_g"), ('0.00 "€"', "price_per_kg")):
        raw, said = read(tmp_path, formatted(tmp_path, code, column))
        assert said == []
        assert raw is not None
        assert raw.rows[0][1][column] == "40"


def test_cells_without_a_heading_are_said_without_talk_of_commas(tmp_path: Path) -> None:
    made = book(tmp_path, [["constituent", "G7"], ["geraniol", 40, "seen"], ["nerol", 60]])
    raw, said = read(tmp_path, made)
    assert raw is None
    assert said == ["b.xlsx#target, row 1: heading number 3 is blank, but there are cells under it."]
