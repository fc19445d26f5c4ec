"""Raised and lowered characters in the cells of a workbook."""

from __future__ import annotations

import io
import zipfile
from typing import Any

import openpyxl
import pytest
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont

from reaccord.findings import Findings
from reaccord.tables.raised import Raised, shown
from reaccord.tables.raw import RawTable
from reaccord.tables.target_table import target_lines
from reaccord.tables.workbook import sheet_of_bytes


def rich(*runs: str) -> CellRichText:
    """Return runs of text: what begins with ^ is raised, with _ lowered, with ! bold."""
    fonts = {"^": InlineFont(vertAlign="superscript"), "_": InlineFont(vertAlign="subscript"), "!": InlineFont(b=True)}
    return CellRichText(*[TextBlock(fonts[run[0]], run[1:]) if run[0] in fonts else run for run in runs])


def book(rows: list[list[Any]]) -> bytes:
    made = openpyxl.Workbook()
    sheet = made.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    packed = io.BytesIO()
    made.save(packed)
    return packed.getvalue()


def read(content: bytes) -> tuple[RawTable | None, list[str]]:
    findings = Findings()
    return sheet_of_bytes(content, "b.xlsx", findings), [str(found) for found in findings]


@pytest.mark.parametrize(
    ("runs", "text"),
    [
        (("linalool", "^1"), "linalool¹"),
        (("linalool", "^1", "!,2"), "linalool¹,2"),
        (("linalool ", "^a,b", " "), "linalool ^a,b "),
        (("linalool", "^*"), "linalool*"),
        (("C", "_15", "H", "_24"), "C15H24"),
        (("Δ", "^3", "-carene"), "Δ³-carene"),
        (("!lina", "lool"), "linalool"),
        (("12.5", "^a"), "12.5^a"),
        (("12.5", "^*"), "12.5*"),
        (("tr", "^1"), "tr¹"),
        (("!12", ".5"), "12.5"),
        (("^12.5",), "12.5"),
        (("1,8-cineole", "^2"), "1,8-cineole²"),
        (("base", "^long note"), "baselong note"),
    ],
)
def test_what_a_person_sees(runs: tuple[str, ...], text: str) -> None:
    assert shown(rich(*runs)) == text


@pytest.mark.parametrize(
    ("runs", "sentence"),
    [
        (("3", "^1"), "shows a raised 1 at 3: take it out"),
        (("3.0", "!", "^1,2"), "shows a raised 1,2 at 3.0: take it out"),
        (("<0.1 ", "^2"), "shows a raised 2 at <0.1: take it out"),
        (("78-70-6", "^1"), "shows a raised 1 at 78-70-6: take it out"),
        (("1.2×10", "^-3"), "shows a raised -3 at 1.2×10: take it out"),
        (("10", "^-3"), "shows a raised -3 at 10: take it out"),
        (("3", "_1"), "shows a lowered 1 at 3: take it out"),
        (("^1", "3 %"), "shows a raised 1 at 3 %: take it out"),
    ],
)
def test_a_digit_at_a_number_is_refused(runs: tuple[str, ...], sentence: str) -> None:
    with pytest.raises(Raised) as caught:
        shown(rich(*[run for run in runs if run != "!"]))
    assert str(caught.value) == sentence


def test_the_cell_is_named_and_the_others_are_still_looked_at() -> None:
    rows: list[list[Any]] = [
        ["constituent", "G7"],
        ["geraniol", rich("3", "^1")],
        ["nerol", rich("3.0", "^2")],
        ["linalool", 4],
    ]
    raw, said = read(book(rows))
    assert raw is None
    assert said == [
        "b.xlsx, row 2, column G7: B2 shows a raised 1 at 3: take it out.",
        "b.xlsx, row 3, column G7: B3 shows a raised 2 at 3.0: take it out.",
    ]


def test_a_mark_raised_behind_a_name_is_left_out_and_said() -> None:
    rows: list[list[Any]] = [
        [rich("Compound", "^a"), rich("RI", "^b"), "G7"],
        [rich("linalool", "^1,2"), 1099, rich("12.5", "^a")],
    ]
    raw, said = read(book(rows))
    assert raw is not None
    assert said == []
    findings = Findings()
    (line,), samples = target_lines(raw, findings)
    assert (line.name, samples, line.shares["G7"].number if line.shares["G7"] else None) == ("linalool", ("G7",), 0.125)
    assert [found.message for found in findings.warnings] == [
        "taken as the column constituent.",
        "left out: it holds no share. If it is a sample, name it in target.samples.",
        '"^1,2" at a name: taken as a footnote mark and left out.',
        "taken as the number; the footnote mark behind it left out.",
    ]


RUNS = '<si><r><t>3</t></r><r><rPr><vertAlign val="superscript"/></rPr><t>1</t></r></si>'
STRINGS = f'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si><t>x</t></si>{RUNS}</sst>'
KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"


def test_shared_strings_as_spreadsheets_write_them() -> None:
    """ECMA-376 Part 1, section 18.4: texts of all sheets in one part, cells count them (from memory)."""
    packed = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(book([["constituent", "G7"], ["linalool", "here"]]))) as old,
        zipfile.ZipFile(packed, "w") as new,
    ):
        for item in old.namelist():
            content = old.read(item).decode()
            if item.endswith("sheet1.xml"):
                cell = 't="inlineStr"><is><t>here</t></is>'
                assert cell in content
                content = content.replace(cell, 't="s"><v>1</v>')
            if item == "[Content_Types].xml":
                part = f'<Override PartName="/xl/sharedStrings.xml" ContentType="{KIND}"/></Types>'
                content = content.replace("</Types>", part)
            new.writestr(item, content)
        new.writestr("xl/sharedStrings.xml", STRINGS)
    raw, said = read(packed.getvalue())
    assert raw is None
    assert said == ["b.xlsx, row 2, column G7: B2 shows a raised 1 at 3: take it out."]


def test_nothing_else_changes() -> None:
    rows: list[list[Any]] = [
        ["constituent", "G7", "x"],
        ["geraniol", 12.5, " two  blanks\nand a line "],
        ["nerol", "tr", True],
    ]
    raw, said = read(book(rows))
    assert said == []
    assert raw is not None
    assert [dict(row) for _, row in raw.rows] == [
        {"constituent": "geraniol", "G7": "12.5", "x": "two  blanks\nand a line"},
        {"constituent": "nerol", "G7": "tr", "x": "yes"},
    ]
