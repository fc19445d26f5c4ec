"""A raw table and its declared columns into typed cells."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from types import MappingProxyType
from typing import Any

from reaccord.domain.lines import Reported
from reaccord.findings import Findings, Place
from reaccord.names.key import did_you_mean, nearest
from reaccord.tables import cells, tokens
from reaccord.tables.cells import BadCell
from reaccord.tables.columns import Column
from reaccord.tables.doubts import HEADINGS
from reaccord.tables.raw import RawTable

_READERS: Mapping[str, Any] = {
    "text": str,
    "list": cells.several,
    "number": cells.number,
    "whole": cells.whole,
    "share": cells.share,
    "reported": tokens.reported,
    "date": cells.date,
    "yes/no": cells.yes_no,
}

TypedRow = tuple[Place, dict[str, Any]]


def typed_rows(
    raw: RawTable,
    columns: Iterable[Column],
    findings: Findings,
    *,
    others: Mapping[str, Column] = MappingProxyType({}),
    passed_over: Collection[str] = (),
) -> list[TypedRow]:
    """Type every cell; a blank is None.

    `others` says how to read headings that no column declares (samples), `passed_over` are not read; any
    further heading is an error. A cell that cannot be read is an error and becomes None, so that the rest
    of its row is still checked. Without a required column there are no rows.
    """
    declared = {column.name: column for column in columns}
    known = {**declared, **others}
    for heading in raw.headings:
        if heading not in known and heading not in passed_over:
            unknown_column(raw, heading, declared, findings)
    missing = [c.name for c in declared.values() if c.required and c.name not in raw.headings]
    for name in missing:
        findings.error("missing-column", f'the column "{name}" is missing.', Place(raw.file, HEADINGS, name))
    if missing:
        return []
    wanted = [(heading, known[heading]) for heading in raw.headings if heading in known]
    typed = []
    for line, row in raw.rows:
        place = Place(raw.file, line)
        values: dict[str, Any] = dict.fromkeys(declared)
        for heading, column in wanted:
            values[heading] = _cell(row[heading], column, place.at(heading), findings)
        typed.append((place, values))
    return typed


def unknown_column(raw: RawTable, heading: str, declared: Iterable[str], findings: Findings) -> None:
    """Note a heading that no column has."""
    hint = nearest(heading, declared)
    findings.error(
        "unknown-column",
        "no such column is known." + did_you_mean(hint),
        Place(raw.file, HEADINGS, heading),
    )


def _cell(text: str, column: Column, place: Place, findings: Findings) -> Any:
    if not text:
        if column.required and not column.may_be_blank:
            findings.error("blank", f"blank; {column.meaning} is needed here.", place)
        return None
    try:
        value = _choice(text, column) if column.kind == "choice" else _READERS[column.kind](text)
    except BadCell as fault:
        findings.error("bad-cell", str(fault), place)
        return None
    if value == () and column.required:
        findings.error("blank", "blank; nothing is named here.", place)
        return None
    size = value.number if isinstance(value, Reported) else value
    if isinstance(size, int | float) and not isinstance(size, bool):
        fault_text = _out_of_range(size, text, column)
        if fault_text:
            findings.error("out-of-range", fault_text, place)
            return None
    return value


def _choice(text: str, column: Column) -> str:
    if text.lower() in column.choices:
        return text.lower()
    hint = nearest(text, column.choices)
    raise BadCell(f'"{text}" is none of {", ".join(column.choices)}.' + did_you_mean(hint))


def _out_of_range(size: float, text: str, column: Column) -> str:
    unit = 100 if column.kind in {"share", "reported"} else 1
    sign = " %" if unit == 100 else ""
    if size < column.least:
        return f'"{text}" is below {column.least * unit:g}{sign}.'
    if size <= column.above:
        return f'"{text}" must be above {column.above * unit:g}{sign}.'
    if size > column.most:
        return f'"{text}" is over {column.most * unit:g}{sign}.'
    return ""
