"""Decimal commas: a comma that can only be one is read as a point; one that may part thousands stays for the reader.

A comma with three digits behind it (`1,006`) parts thousands or decimals; the other numbers of its column decide, else
those of the whole table.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import replace

from reaccord.findings import Findings
from reaccord.tables.raw import RawTable

_COMMA = re.compile(r"(?<![\d.,])(\d+),(\d+)(?![\d.,])")
_EITHER = re.compile(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?![\d.,])")
_POINT = re.compile(r"(?<![\d.,])\d+\.\d+(?![\d.,])")
_POINTS_THEN_COMMA = re.compile(r"(?<![\d.,])(\d{1,3}(?:\.\d{3})+),(\d+)(?![\d.,])")
_COMMAS_THEN_POINT = re.compile(r"(?<![\d.,])(\d{1,3}(?:,\d{3})+)(\.\d+)(?![\d.,])")


def with_points(raw: RawTable, numeric: Collection[str], findings: Findings) -> RawTable:
    """Return the table with points for the decimal commas in these columns; said once a column."""
    columns = {heading: [row[heading] for _, row in raw.rows] for heading in numeric}
    if not any("," in cell for cells in columns.values() for cell in cells):
        return raw
    everywhere = _commas_alone([cell for cells in columns.values() for cell in cells])
    changed: dict[str, list[str]] = {}
    for heading, cells in columns.items():
        thousands = any(map(_COMMAS_THEN_POINT.search, cells))
        either = _commas_alone(cells) or (everywhere and not any(map(_POINT.search, cells)))
        read = [_pointed(cell, either=either, thousands=thousands) if "," in cell else cell for cell in cells]
        if read != cells:
            changed[heading] = read
            findings.warn("taken-as", "decimal commas read as such.", raw.heading(heading))
    if not changed:
        return raw
    rows = (
        (line, {**row, **{heading: read[n] for heading, read in changed.items()}})
        for n, (line, row) in enumerate(raw.rows)
    )
    return replace(raw, rows=tuple(rows))


def _commas_alone(cells: Collection[str]) -> bool:
    """Whether some comma can only be a decimal one, and no number has a point."""
    certain = any(_COMMA.search(_EITHER.sub("", cell)) or _POINTS_THEN_COMMA.search(cell) for cell in cells)
    return certain and not any(map(_POINT.search, cells))


def _pointed(cell: str, *, either: bool, thousands: bool) -> str:
    cell = _POINTS_THEN_COMMA.sub(lambda found: f"{found[1].replace('.', '')}.{found[2]}", cell)
    cell = _COMMAS_THEN_POINT.sub(lambda found: found[1].replace(",", "") + found[2], cell)
    if not either and _EITHER.search(cell):
        return _EITHER.sub(lambda found: found[0].replace(",", ""), cell) if thousands else cell
    return _COMMA.sub(r"\1.\2", cell)
