"""Sheets of an .xlsx workbook as raw tables: `book.xlsx#Sheet`.

What a person sees is what is read: a percent-formatted cell carries its sign, so does one that shows `ppm` beside
its number, a date is a date, what is raised behind a name is a footnote mark, cells merged down a column mean each of
them. What a person may not see (hidden rows, columns, sheets), cannot place (a value merged across columns) or would
read as something else (other units in the number format, raised digits at a number) is refused, cell named.
"""

from __future__ import annotations

import datetime
import io
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reaccord.findings import Findings, Place
from reaccord.names.text import shortened
from reaccord.tables import number_format, raised
from reaccord.tables.heading_row import table_of_rows
from reaccord.tables.merged import merged_values
from reaccord.tables.number_format import Unclear
from reaccord.tables.raised import Raised
from reaccord.tables.raw import RawTable, clean
from reaccord.tables.workbook_size import too_large

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell, MergedCell
    from openpyxl.cell.rich_text import CellRichText
    from openpyxl.workbook.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

LOWEST, NARROWEST = 1.0, 0.1
"""Points of a row, characters of a column; nobody sees what is in less."""


def is_sheet(name: str) -> bool:
    """Whether a table name of a study means a sheet of a workbook."""
    return book_of(name).lower().endswith((".xlsx", ".xlsm"))


def book_of(name: str) -> str:
    """Return the file of a sheet."""
    return name.partition("#")[0]


def workbook_of(path: Path) -> Path:
    """Return the file that holds a table: that of a sheet, else the path itself."""
    return path.with_name(book_of(path.name)) if is_sheet(path.name) else path


def sheet_of_bytes(content: bytes, name: str, findings: Findings, usual: str = "") -> RawTable | None:
    """Read the sheet `name` (`book.xlsx#Sheet`) of these bytes; without `#` the only one, or that called `usual`."""
    file, _, title = name.partition("#")
    book = _open(content, file, findings, stored=True)
    formulas = None if book is None else _open(content, file, findings, stored=False)
    if book is None or formulas is None:
        return None
    sheet = _sheet(book, title or usual, file, findings, needed=bool(title))
    if sheet is None:
        return None
    before = len(findings.errors)
    _refuse_unseen(sheet, name, findings)
    merged = merged_values(sheet, name, findings)
    rich = raised.rich_cells(formulas[sheet.title])
    unworked = _unworked(sheet, formulas[sheet.title])
    lines = list(_lines(sheet, (rich, merged, unworked), name, findings))
    if len(findings.errors) > before:
        return None
    return table_of_rows(lines, name, findings)


def _open(content: bytes, file: str, findings: Findings, *, stored: bool) -> Workbook | None:
    """Open it with the results of formulas (`stored`), or with the formulas and what is raised or lowered."""
    from openpyxl import load_workbook

    try:
        if stored:
            fault = too_large(content)
            if fault:
                findings.error("file-too-large", fault, Place(file))
                return None
        return load_workbook(io.BytesIO(content), data_only=stored, rich_text=not stored)
    except Exception as fault:  # openpyxl raises whatever its parsers meet in a damaged file
        findings.error("workbook", f"not a proper .xlsx workbook ({type(fault).__name__}: {fault}).", Place(file))
        return None


def _sheet(book: Workbook, title: str, file: str, findings: Findings, *, needed: bool) -> Worksheet | None:
    """Return the sheet called so; unless that is `needed`, the only one there is will do."""
    titles = [sheet.title for sheet in book.worksheets]
    if not needed and len(titles) == 1:
        title = titles[0]
    if title not in titles:
        listed = ", ".join(f"{file}#{item}" for item in titles)
        which = f'no sheet "{title}"' if needed else "which sheet?"
        findings.error("unknown-sheet", f"{which}{'.' if needed else ''} The workbook has: {listed}.", Place(file))
        return None
    sheet: Worksheet = book[title]
    if sheet.sheet_state != "visible":
        findings.error("hidden", f'the sheet "{title}" is hidden. Show it or name another.', Place(file))
        return None
    return sheet


def _refuse_unseen(sheet: Worksheet, name: str, findings: Findings) -> None:
    from openpyxl.utils import get_column_letter

    for number, row in sorted(sheet.row_dimensions.items()):
        if (row.hidden or _slight(row.height, LOWEST)) and any(cell.value is not None for cell in sheet[number]):
            findings.error("hidden", f"row {number} is hidden. Show it or delete it.", Place(name, number))
    for number in _hidden_columns(sheet):
        letter = get_column_letter(number)
        if any(cell.value is not None for cell in sheet[letter]):
            findings.error("hidden", f"column {letter} is hidden. Show it or delete it.", Place(name, 1))


def _slight(size: float | None, least: float) -> bool:
    return size is not None and size < least


def _hidden_columns(sheet: Worksheet) -> list[int]:
    """Return the numbers of hidden columns; a file keeps neighbours of one format as one span."""
    from openpyxl.utils import column_index_from_string

    hidden = {letter: d for letter, d in sheet.column_dimensions.items() if d.hidden or _slight(d.width, NARROWEST)}
    spans = [range(d.min, d.max + 1) for d in hidden.values() if d.min and d.max]
    single = [column_index_from_string(letter) for letter in hidden]
    last = sheet.max_column
    return sorted({number for span in spans for number in span if number <= last} | set(single))


def _unworked(sheet: Worksheet, formulas: Worksheet) -> dict[str, str]:
    """Return the formulas whose result the file does not hold, by cell: such a cell is no blank."""
    return {
        cell.coordinate: str(cell.value)
        for row in formulas.iter_rows()
        for cell in row
        if cell.data_type == "f" and sheet[cell.coordinate].value is None
    }


def _lines(
    sheet: Worksheet,
    beside: tuple[Mapping[str, CellRichText], Mapping[str, str], Mapping[str, str]],
    name: str,
    findings: Findings,
) -> Iterator[tuple[int, list[str]]]:
    rich, merged, unworked = beside
    headings: dict[int, str] = {}
    unclear: dict[tuple[int, str], list[Any]] = {}
    for number, row in enumerate(sheet.iter_rows(), start=1):
        cells = []
        for place, cell in enumerate(row):
            first = merged.get(cell.coordinate, cell.coordinate)
            of = sheet[first] if first != cell.coordinate else cell
            try:
                text = (
                    raised.shown(rich[first]) if first in rich else _shown(of, headings.get(place, ""), name, findings)
                )
                cells.append(clean(unworked.get(first, text)))
            except Raised as fault:
                at = Place(name, cell.row, headings.get(place) or None)
                findings.error("raised", f"{cell.coordinate} {fault}.", at)
                cells.append("")
            except Unclear as fault:
                unclear.setdefault((place, str(fault)), []).append(cell)
                cells.append("")
        while cells and not cells[-1]:
            cells.pop()
        if cells:
            headings = dict(enumerate(cells)) if sum(map(bool, headings.values())) < 2 else headings
            yield number, cells
    for (place, reason), found in unclear.items():
        _refuse_unclear(found, reason, Place(name, found[0].row, headings.get(place) or None), findings)


def _refuse_unclear(cells: list[Any], reason: str, place: Place, findings: Findings) -> None:
    first, more = cells[0], len(cells) - 1
    which = f"{first.coordinate}" + (f" (and {more} more in column {first.column_letter})" if more else "")
    findings.error(
        "number-format",
        f"the number format of {which}, {shortened(first.number_format)}, {reason}. Format it as General; "
        "a unit of a share may be %, ‰ or ppm.",
        place,
    )


def _shown(cell: Cell | MergedCell, heading: str, name: str, findings: Findings) -> str:
    """Return the text of a cell: the stored value, with the sign its format shows."""
    value: Any = cell.value
    if value is None:
        return ""
    if cell.data_type == "e":
        findings.error("cell-error", f"{cell.coordinate} shows {value}.", Place(name, cell.row))
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime.datetime):
        return value.date().isoformat() if value.time() == datetime.time() else value.isoformat()
    if isinstance(value, int | float):
        return number_format.shown(value, str(cell.number_format), heading)
    return str(value)
