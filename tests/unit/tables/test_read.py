"""From the names in a study file to tables: which may be empty, which workbooks are read."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.studies import folder, told

from reaccord.findings import Findings, InvalidInput
from reaccord.study.load import load_study
from reaccord.tables.read import any_table, read_formula

NO_ROWS = "there are headings but no rows."


def errors(path: Path) -> list[str]:
    with pytest.raises(InvalidInput) as caught:
        load_study(path)
    return [str(found) for found in caught.value.errors]


def test_compositions_and_constituents_may_have_no_rows(tmp_path: Path) -> None:
    study = load_study(folder(tmp_path, compositions="material,part,share\n", constituents="constituent\n"))
    assert study.tables.compositions == ()
    assert study.tables.constituents == ()


def test_a_composition_that_is_needed_is_missed_all_the_same(tmp_path: Path) -> None:
    path = folder(tmp_path, bottles="material,constituent,purity\nOil,,", compositions="material,part,share\n")
    (error,) = errors(path)
    assert error.startswith("bottles.csv, row 2"), error
    assert "Oil" in error


def test_headings_of_an_empty_table_are_looked_at(tmp_path: Path) -> None:
    (error,) = errors(folder(tmp_path, compositions="material,part,share,basys\n"))
    assert error == 'compositions.csv, row 1, column basys: no such column is known. Did you mean "basis"?'


@pytest.mark.parametrize("name", ["target", "bottles", "limits"])
def test_the_other_tables_need_rows(tmp_path: Path, name: str) -> None:
    headings = {"target": "constituent,G1", "bottles": "material", "limits": "rule,members,product,max"}
    assert errors(folder(tmp_path, **{name: headings[name] + "\n"})) == [f"{name}.csv: {NO_ROWS}"]


def test_a_formula_needs_rows(tmp_path: Path) -> None:
    (tmp_path / "f.csv").write_text("material,grams\n")
    findings = Findings()
    assert read_formula(tmp_path / "f.csv", findings) is None
    assert told(findings) == [("empty-table", f"f.csv: {NO_ROWS}")]


@pytest.mark.parametrize("book", ["w.xls", "w.ods", "W.XLSB"])
def test_a_sheet_of_another_workbook_says_which_are_read(book: str) -> None:
    findings = Findings()
    assert any_table(f"{book}#bottles", lambda _: pytest.fail("nothing to open"), findings) is None
    text = f"of workbooks only .xlsx is read: save {book} as .xlsx and name that here."
    assert told(findings) == [("workbook", f"{book}#bottles: {text}")]


@pytest.mark.parametrize(("name", "begins"), [("w.xls", b"\xd0\xcf\x11\xe0\xa1\xb1"), ("w.csv", b"PK\x03\x04...")])
def test_a_workbook_that_is_named_as_a_table(tmp_path: Path, name: str, begins: bytes) -> None:
    (tmp_path / name).write_bytes(begins)
    findings = Findings()
    assert read_formula(tmp_path / name, findings) is None
    cure = "Save it as .xlsx and name the sheet, as book.xlsx#sheet; or save the sheet as CSV."
    assert told(findings) == [("workbook", f"{name}: this is a workbook, not text. {cure}")]


def test_text_that_is_called_a_workbook_is_read(tmp_path: Path) -> None:
    (tmp_path / "w.xls").write_text("material,grams\nGeraniol,1\n")
    findings = Findings()
    assert read_formula(tmp_path / "w.xls", findings) is not None
    assert told(findings) == []
