"""Tables as sheets of a workbook: bold heads, frozen, widths that fit, numbers in the format of what they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

WIDEST = 48


class Kind(Enum):
    """What a column holds, as the format of its cells."""

    TEXT = ""
    SHARE = "0.00####%"
    GRAMS = "0.000#####"
    MONEY = "0.00##"
    POINTS = "+0.00##;-0.00##;0.00"
    PARTS = "0.0##"
    RATIO = "0.000###"
    NUMBER = "General"


OF_UNITS = {"share": Kind.SHARE, "g": Kind.GRAMS, "per kg": Kind.MONEY, "ratio": Kind.RATIO}
"""The format of a quantity by its unit; another is a bare number."""


@dataclass(frozen=True)
class Quantity:
    """A cell that does not hold what its column does."""

    value: float | None
    kind: Kind


def new_workbook() -> Workbook:
    """Return a workbook without a sheet."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    return book


def add_table(
    book: Workbook,
    title: str,
    columns: Sequence[tuple[str, Kind]],
    rows: Sequence[Sequence[Any]],
    *,
    plain: bool = False,
) -> Worksheet:
    """Add a sheet with heads and rows; `plain`: without heads."""
    sheet: Worksheet = book.create_sheet(title)
    first = 1
    if not plain:
        for place, (head, _) in enumerate(columns, start=1):
            put(sheet, 1, place, head)
        first = 2
    for number, row in enumerate(rows, start=first):
        for place, (value, (_, kind)) in enumerate(zip(row, columns, strict=True), start=1):
            bare, of = (value.value, value.kind) if isinstance(value, Quantity) else (value, kind)
            put(sheet, number, place, bare)
            if of is not Kind.TEXT:
                sheet.cell(number, place).number_format = of.value
    finish(sheet, heads=not plain)
    return sheet


def put(sheet: Worksheet, row: int, column: int, value: Any) -> None:
    """Write a cell; text stays text, whatever sign it begins with, and a blank is none."""
    cell = sheet.cell(row, column)
    if not isinstance(value, str):
        cell.value = value
    elif value:
        cell.value = value
        cell.data_type, cell.quotePrefix = "s", value[0] in "=+-@"
        if len(value) > WIDEST:
            from openpyxl.styles import Alignment

            cell.alignment = Alignment(wrap_text=True, vertical="top")


def finish(sheet: Worksheet, *, heads: bool = True) -> None:
    """Make heads bold and stay, columns as wide as they need, and the sheet print on A4."""
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.properties import PageSetupProperties

    for place, column in enumerate(sheet.columns, start=1):
        longest = max((len(str(cell.value or "")) for cell in column if cell.data_type != "f"), default=0)
        sheet.column_dimensions[get_column_letter(place)].width = min(longest + 2, WIDEST)
        if heads:
            column[0].font = Font(bold=True)
    if heads:
        sheet.freeze_panes = "A2"
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", 9
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
