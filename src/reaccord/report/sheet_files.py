"""The sheet for the bench as a page that prints, and as a workbook that adds up what is poured."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from reaccord.balance.equal_strength import solvent_of
from reaccord.report.data import cautions
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
from reaccord.report.workbook_cells import Kind, add_table, new_workbook

if TYPE_CHECKING:
    from openpyxl import Workbook

    from reaccord.balance.equal_strength import Vial
    from reaccord.balance.sheet import Sheet

ROOMY = 26
"""Rows that stand on one A4 page in the usual size."""


def sheet_file(found: Sheet, vials: Sequence[Vial], ending: str) -> str | bytes:
    """Return the sheet as the ending of its file says: .html or .xlsx."""
    return sheet_page(found, vials) if ending == ".html" else sheet_workbook(found)


def sheet_page(found: Sheet, vials: Sequence[Vial]) -> str:
    """Return the sheet as a page of its own: nothing is loaded, and up to some forty rows it prints on one A4 page."""
    rows, small = len(found.lines) + len(found.stocks) + len(vials), {"print_size": "8pt", "print_gap": ".06rem"}
    return page(
        "sheet.html",
        title=found.study.title or "Untitled study",
        date=found.study.date.isoformat(),
        **sheet_values(found, vials),
        cautions=cautions(found.study),
        **(small if rows > ROOMY else {}),
    )


def sheet_values(found: Sheet, vials: Sequence[Vial]) -> dict[str, Any]:
    """Return the sheet's cells as the templates take them."""
    balance = found.study.settings.balance
    decimals = decimals_of(balance.readability_g) if balance else NO_BALANCE
    cells = line_cells(found)
    return {
        "verdict": verdict(found),
        "stock_rows": [
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
        "line_rows": cells,
        "total": {"lines": counted(len(cells), "line"), "grams": cells[-1]["running"]},
        "notes": smallest(found),
        "vial_rows": [
            {
                "sample": vial.sample,
                "sample_g": f"{vial.sample_g:.{decimals}f}",
                "solvent_g": f"{vial.solvent_g:.{decimals}f}",
                "strength": percent(vial.strength, 2),
            }
            for vial in vials
        ],
        "solvent": solvent_of(found.study),
    }


def sheet_workbook(found: Sheet) -> bytes:
    """Return the sheet as a workbook: the lines, which read back as a formula, and the dilutions to make."""
    book = new_workbook()
    add_sheet(book, found)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def add_sheet(book: Workbook, found: Sheet) -> None:
    """Add the sheet `weigh`, and `make first` where there is something to make.

    What is poured goes into the column `poured_g`; beside it the running total follows: poured so far, planned for the
    lines still blank.
    """
    from openpyxl.utils import get_column_letter

    headings = [*SHEET, "display_g"]
    rows = [[*((line_row(line) | {"poured_g": None})[name] for name in SHEET), None] for line in found.lines]
    lines = add_table(book, "weigh", _kinds(headings), rows)
    grams, poured = (get_column_letter(headings.index(name) + 1) for name in ("grams", "poured_g"))
    for row in range(2, len(found.lines) + 2):
        so_far = f"{poured}$2:{poured}{row}"
        lines.cell(row, len(headings)).value = f'=SUM({so_far})+SUMIF({so_far},"",{grams}$2:{grams}{row})'
    if found.stocks:
        flat = [{n: v for n, v in row.items() if not isinstance(v, dict)} for row in stock_rows(found.stocks)]
        add_table(book, "make first", _kinds(list(flat[0])), [list(row.values()) for row in flat])


def _kinds(names: Sequence[str]) -> list[tuple[str, Kind]]:
    """Return the columns with what each holds, as its name says."""
    of = dict.fromkeys(("strength", "reached", "error"), Kind.SHARE)
    of |= {"grams": Kind.GRAMS, "parts_per_thousand": Kind.PARTS}
    return [(name, of.get(name, Kind.GRAMS if name.endswith("_g") else Kind.NUMBER)) for name in names]
