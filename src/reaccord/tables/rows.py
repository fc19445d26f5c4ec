"""A raw table and its declared columns into typed cells."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from reaccord.domain.lines import Reported
from reaccord.findings import Findings, Place
from reaccord.names.key import nearest
from reaccord.tables import cells
from reaccord.tables.cells import BadCell
from reaccord.tables.columns import Column
from reaccord.tables.raw import RawTable

_READERS: Mapping[str, Any] = {
    "text": str,
    "list": cells.several,
    "number": cells.number,
    "whole": cells.whole,
    "share": cells.share,
    "reported": cells.reported,
    "date": cells.date,
    "yes/no": cells.yes_no,
}

TypedRow = tuple[Place, dict[str, Any]]


def typed_rows(
    raw: RawTable,
    columns: Iterable[Column],
    findings: Findings,
    *,
    others: Column | None = None,
) -> list[TypedRow]:
    """Type every cell; a blank is None.

    `others` is how to read headings that no column declares (samples); without it they are errors.
    A cell that cannot be read is an error and
    becomes None, so that the rest of its row is still checked.
    """
    declared = {column.name: column for column in columns}
    known = dict(declared)
    for heading in raw.headings:
        if heading in declared:
            continue
        if others is not None:
            known[heading] = others
            continue
        hint = nearest(heading, declared)
        findings.error(
            "unknown-column",
            "no such column is known." + (f' Did you mean "{hint}"?' if hint else ""),
            Place(raw.file, 1, heading),
        )
    missing = [c.name for c in declared.values() if c.required and c.name not in raw.headings]
    for name in missing:
        findings.error("missing-column", f'the column "{name}" is missing.', Place(raw.file, 1, name))
    wanted = [(heading, known[heading]) for heading in raw.headings if heading in known]
    typed = []
    for line, row in raw.rows:
        place = Place(raw.file, line)
        values: dict[str, Any] = dict.fromkeys(declared)
        for heading, column in wanted:
            values[heading] = _cell(row[heading], column, place.at(heading), findings)
        typed.append((place, values))
    return typed


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
    raise BadCell(
        f'"{text}" is none of {", ".join(column.choices)}.' + (f' Did you mean "{hint}"?' if hint else "")
    )


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
