"""The sheet for the bench as a page that prints, and as a workbook that adds up what is poured."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reaccord.balance.equal_strength import solvent_of
from reaccord.report.data import cautions
from reaccord.report.files import write_whole
from reaccord.report.layout import counted
from reaccord.report.pages import page
from reaccord.report.quantities import NO_BALANCE, decimals_of, percent
from reaccord.report.weigh import (
    SHEET,
    grams_text,
    line_cells,
    line_row,
    off_by,
    smallest,
    source_text,
    stock_name,
    stock_rows,
    verdict,
)

if TYPE_CHECKING:
    from openpyxl.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

    from reaccord.balance.equal_strength import Vial
    from reaccord.balance.sheet import Sheet

ROOMY = 26
"""Rows that stand on one A4 page in the usual size."""
WIDEST = 48


def write_sheet(path: Path, found: Sheet, vials: Sequence[Vial]) -> None:
    """Write the sheet as its ending says: .html or .xlsx."""
    html = path.suffix.lower() == ".html"
    write_whole(path, sheet_page(found, vials) if html else sheet_workbook(found))


def sheet_page(found: Sheet, vials: Sequence[Vial]) -> str:
    """Return the sheet as a page of its own: nothing is loaded, and up to some forty rows it prints on one A4 page."""
    balance = found.study.settings.balance
    decimals = decimals_of(balance.readability_g) if balance else NO_BALANCE
    rows, small = len(found.lines) + len(found.stocks) + len(vials), {"print_size": "8pt", "print_gap": ".06rem"}
    cells = line_cells(found)
    return page(
        "sheet.html",
        title=found.study.title or "Untitled study",
        date=found.study.date.isoformat(),
        verdict=verdict(found),
        stock_rows=[
            {
                "name": stock_name(made.key),
                "source": source_text(made),
                "material": grams_text(found.study, made.source, made.material_g),
                "carrier": grams_text(found.study, made.carrier, made.carrier_g),
                "off": off_by(made),
                "left": grams_text(found.study, made.key, made.left_g),
            }
            for made in found.stocks
        ],
        line_rows=cells,
        total={"lines": counted(len(cells), "line"), "grams": cells[-1]["running"]},
        notes=smallest(found),
        vial_rows=[
            {
                "sample": vial.sample,
                "sample_g": f"{vial.sample_g:.{decimals}f}",
                "solvent_g": f"{vial.solvent_g:.{decimals}f}",
                "strength": percent(vial.strength, 2),
            }
            for vial in vials
        ],
        solvent=solvent_of(found.study),
        cautions=cautions(found.study),
        **(small if rows > ROOMY else {}),
    )


def sheet_workbook(found: Sheet) -> bytes:
    """Return the sheet as a workbook: the lines, which read back as a formula, and the dilutions to make.

    What is poured goes into the column `poured_g`; beside it the running total follows: poured so far, planned for the
    lines still blank.
    """
    from openpyxl import Workbook

    book = Workbook()
    lines = book.active
    assert lines is not None
    lines.title = "weigh"
    headings = [*SHEET, "display_g"]
    _row(lines, 1, headings)
    grams, poured = (_letter(headings.index(name)) for name in ("grams", "poured_g"))
    for row, line in enumerate(found.lines, start=2):
        values = line_row(line) | {"poured_g": None}
        _row(lines, row, [values[name] for name in SHEET])
        _percent(lines.cell(row, headings.index("strength") + 1))
        so_far = f"{poured}$2:{poured}{row}"
        lines.cell(row, len(headings), f'=SUM({so_far})+SUMIF({so_far},"",{grams}$2:{grams}{row})')
    _finish(lines)
    if found.stocks:
        stocks = book.create_sheet("make first")
        rows = [
            {name: value for name, value in row.items() if not isinstance(value, dict)}
            for row in stock_rows(found.stocks)
        ]
        _row(stocks, 1, list(rows[0]))
        for number, values in enumerate(rows, start=2):
            _row(stocks, number, list(values.values()))
            for name in ("strength", "reached", "error"):
                _percent(stocks.cell(number, list(values).index(name) + 1))
        _finish(stocks)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _letter(place: int) -> str:
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[place]


def _row(sheet: Worksheet, row: int, values: Sequence[Any]) -> None:
    """Write cells; text stays text, whatever sign it begins with."""
    for column, value in enumerate(values, start=1):
        cell = sheet.cell(row, column)
        cell.value = value or None if isinstance(value, str) else value
        if isinstance(value, str) and value:
            cell.data_type, cell.quotePrefix = "s", value[0] in "=+-@"


def _percent(cell: Cell | Any) -> None:
    cell.number_format = "0.######%"


def _finish(sheet: Worksheet) -> None:
    from openpyxl.styles import Font
    from openpyxl.worksheet.properties import PageSetupProperties

    for place, column in enumerate(sheet.columns):
        longest = max(len(str(cell.value or "")) for cell in column if cell.data_type != "f")
        sheet.column_dimensions[_letter(place)].width = min(longest + 2, WIDEST)
        column[0].font = Font(bold=True)
    sheet.freeze_panes = "A2"
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", 9
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
