"""Merged cells of a sheet: down a column each of them means what the first says; across columns only text may stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reaccord.findings import Findings, Place
from reaccord.tables.no_shares import is_share

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet


def merged_values(sheet: Worksheet, name: str, findings: Findings) -> dict[str, str]:
    """Return, for each cell merged to one above it, which cell that is.

    A title or a heading over several columns belongs to the first of them. A value over several columns is an error:
    nobody can tell whose it is.
    """
    above: dict[str, str] = {}
    for merged in sorted(sheet.merged_cells.ranges, key=lambda found: (found.min_row, found.min_col)):
        first = sheet.cell(merged.min_row, merged.min_col)
        text = "" if first.value is None else str(first.value)
        if merged.max_col > merged.min_col and is_share(text):
            findings.error(
                "merged-cells",
                f"the cells {merged.coord} are merged over columns. Unmerge them and write the value into each.",
                Place(name, merged.min_row),
            )
            continue
        for row in range(merged.min_row + 1, merged.max_row + 1):
            above[sheet.cell(row, merged.min_col).coordinate] = first.coordinate
    return above
