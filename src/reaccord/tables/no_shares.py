"""Columns of a target that are no sample by what they hold: numbers of rows, text, nothing, more than there can be."""

from __future__ import annotations

import re
from collections.abc import Collection

from reaccord.findings import Findings
from reaccord.tables.cell_kinds import is_number, numbers_rows
from reaccord.tables.cells import BadCell
from reaccord.tables.headings import without
from reaccord.tables.raw import RawTable
from reaccord.tables.tokens import reported

MOST = 102.0
"""Percent; a share is never more."""
_LEADING = re.compile(r"\W{0,2}(\d+)")


def without_no_shares(raw: RawTable, kept: Collection[str], findings: Findings, *, say: bool) -> RawTable:
    """Leave out the columns that cannot be samples by what they hold, if another one can; `kept` are none of them."""
    columns = {heading: [row[heading] for _, row in raw.rows] for heading in raw.headings if heading not in kept}
    reasons = {heading: reason for heading, cells in columns.items() if (reason := _reason(cells))}
    if len(reasons) == len(columns):
        return raw
    said = [(raw.heading(heading), f"left out: {reason}") for heading, reason in (reasons.items() if say else ())]
    findings.warn_headings("taken-as", said, " If it is a sample, name it in target.samples.")
    return without(raw, reasons)


def _reason(cells: Collection[str]) -> str:
    filled = [cell for cell in cells if cell]
    if not filled:
        return "it is blank"
    if numbers_rows(filled):
        return "it numbers the rows"
    numbers = [cell for cell in filled if is_number(cell)]
    if not any(map(is_share, filled)) and (not numbers or all(_leading(cell) <= MOST for cell in numbers)):
        return "no cell of it is a share" if not numbers else ""
    return (
        "its numbers are over 102, so they are no percentages"
        if numbers and all(_leading(cell) > MOST for cell in numbers)
        else ""
    )


def _leading(cell: str) -> float:
    found = _LEADING.match(cell)
    return float(found[1]) if found else 0.0


def is_share(cell: str) -> bool:
    """Whether a cell can be read as a share."""
    try:
        reported(cell)
    except BadCell:
        return False
    return True
