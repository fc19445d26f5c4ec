"""A raw table and its declared columns into typed cells."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from itertools import pairwise
from types import MappingProxyType
from typing import Any

from reaccord.domain.lines import Reported
from reaccord.findings import Findings, Place
from reaccord.names.key import did_you_mean, nearest
from reaccord.names.text import shortened
from reaccord.tables import cells, tokens, written
from reaccord.tables.cell_units import measured
from reaccord.tables.cells import BadCell
from reaccord.tables.columns import Column
from reaccord.tables.dates import with_iso_dates
from reaccord.tables.decimal_comma import with_points
from reaccord.tables.heading_words import no_mass, other_unit, small_unit
from reaccord.tables.raw import RawTable

_READERS: Mapping[str, Any] = {
    "free": str,
    "text": str,
    "cas": str,
    "name": str,
    "names": cells.several,
    "words": cells.several,
    "whole": cells.whole,
    "share": cells.share,
    "purity": tokens.pure,
    "reported": tokens.reported,
    "date": cells.date,
    "some date": cells.some_date,
    "yes/no": cells.yes_no,
}

_SHARES = {"share", "purity", "reported"}
_NUMERIC = {"number", "whole", "share", "purity", "reported"}
_LOCANT_ENDS = re.compile(r"(?:^|[-(,])\d{1,2}'?$")
_LOCANT_BEGINS = re.compile(r"\d{1,2}'?(?:,\d{1,2}'?)*-[^\W\d]")
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
    further heading is left out and said. A cell that cannot be read is an error and becomes None, so that the rest
    of its row is still checked. Without a required column there are no rows.
    """
    declared = {column.name: column for column in columns}
    known = {**declared, **others}
    missing = [c.name for c in declared.values() if c.required and c.name not in raw.headings]
    misspelt = _unknown(raw, [h for h in raw.headings if h not in known and h not in passed_over], declared, findings)
    for name in sorted({*missing} - misspelt, key=missing.index):  # of those the finding on that heading says so
        findings.error("missing-column", f'the column "{name}" is missing.', raw.heading(name))
    if missing:
        return []
    raw = _plainer(raw, known, findings)
    wanted = [(heading, known[heading]) for heading in raw.headings if heading in known]
    typed = []
    marks: list[tuple[Place, str]] = []
    named = [(heading, column) for heading, column in wanted if column.kind == "name" and column.required]
    shifted = _shifted(raw, wanted, findings)
    for line, row in raw.rows:
        place = Place(raw.file, line)
        said = Findings() if line in shifted else findings
        values: dict[str, Any] = dict.fromkeys([*declared, *(heading for heading, _ in wanted)])
        for heading, column in named if line in shifted else wanted:
            at = place.at(heading)
            value = _cell(row[heading], column, at, said)
            if value is not None and column.kind in {"text", "cas", "name", "names"}:
                value = _tidied(value, column, at, said, marks)
            values[heading] = value
        typed.append((place, values))
    findings.warn_once("taken-as", marks)
    return typed


def _shifted(raw: RawTable, wanted: Iterable[tuple[str, Column]], findings: Findings) -> set[int | None]:
    """Return the rows in which only a cure shows which cell is which.

    They have too many cells, or a name was cut at the comma between its locants (`1,8-cineole`): an error.
    """
    shifted = {
        found.place.row for found in findings.errors if found.place.file == raw.file and found.code == "too-many-cells"
    }
    names = [heading for heading, column in wanted if column.kind in {"name", "names"}]
    behind = [(a, b) for a, b in pairwise(raw.headings) if a in names and b not in names]
    for line, row in raw.rows:
        for name, following in behind:
            ends, begins = row[name], row[following]
            whole_name = "," in begins  # it was in quotes, or nothing parts cells at commas here
            cut = raw.cut == "," and not whole_name and _LOCANT_ENDS.search(ends) and _LOCANT_BEGINS.match(begins)
            if cut and line not in shifted:
                whole = shortened(f"{row[name]},{row[following]}")
                text = f'the comma in "{whole}" parts it into two cells: put the name in quotes.'
                findings.error("unquoted", text, Place(raw.file, line, name))
                shifted.add(line)
    return shifted


def _unknown(
    raw: RawTable, headings: Iterable[str], declared: Mapping[str, Column], findings: Findings
) -> set[str | None]:
    """Leave unknown columns out and say so; ask where one may be a declared column, and return which."""
    misspelt: set[str | None] = set()
    for heading in headings:
        hint = nearest(heading, [name for name in declared if name not in raw.headings]) or _longer(heading, declared)
        unit = _unit_of(heading) if not all(n in raw.headings for n, c in declared.items() if c.kind in _SHARES) else ""
        joined = [name for name in declared if name in re.split(r"\W+|(?<=[a-z])(?=[A-Z])", heading.casefold())]
        if hint or unit or len(joined) > 1 or _glued(heading, declared):
            text = "no such column is known." + did_you_mean(hint) if hint else unit or _several_columns(heading)
            findings.error("unknown-column", text, raw.heading(heading))
            misspelt.add(hint)
        else:
            findings.warn("left-out", "left out: no such column is known.", raw.heading(heading))
    return misspelt


def _unit_of(heading: str) -> str:
    unit = no_mass(heading) or small_unit(heading) or (heading if other_unit(heading) else "")
    return f'"{shortened(unit)}" is no share by mass. Give percent by mass, in a column of its own.' if unit else ""


def _glued(heading: str, declared: Collection[str]) -> bool:
    """Whether a heading is the names of two columns with what parted them lost: `lowhigh`."""
    tight = heading.casefold()
    return any(tight.startswith(name) and tight[len(name) :] in declared for name in declared)


def _several_columns(heading: str) -> str:
    return f'"{shortened(heading)}" names several columns: has what parts them been lost?'


def _plainer(raw: RawTable, known: Mapping[str, Column], findings: Findings) -> RawTable:
    """Return the table with decimal commas as points and dates in the extended form, where they mean one thing."""
    of = {heading: known[heading] for heading in raw.headings if heading in known}
    raw = with_points(raw, [heading for heading, column in of.items() if column.kind in _NUMERIC], findings)
    days = [heading for heading, column in of.items() if column.kind == "date"]
    some = [heading for heading, column in of.items() if column.kind == "some date"]
    raw = with_iso_dates(raw, days, findings, whole=True) if days else raw
    return with_iso_dates(raw, some, findings, whole=False) if some else raw


def _longer(heading: str, declared: Iterable[str]) -> str | None:
    """Return the column whose name begins with this word: `price` for price_per_kg."""
    begun = [name for name in declared if name.startswith(f"{heading.lower()}_")]
    return begun[0] if len(begun) == 1 else None


def _tidied(value: Any, column: Column, place: Place, findings: Findings, marks: list[tuple[Place, str]]) -> Any:
    """Return a text, a name or several names as they are compared: one line, no footnote marks."""
    if column.kind == "cas" and value.lower() in tokens.NO_CAS:
        marks.append((place, f'"{value}" taken as a blank'))
        return None
    if column.kind in {"text", "cas"}:
        return written.plain(value, place, findings)
    if column.kind == "name":
        return written.name(value, place, findings, marks)
    return tuple(written.name(item, place, findings, marks) for item in value)


def _cell(text: str, column: Column, place: Place, findings: Findings) -> Any:
    if column.kind != "free":
        text = written.visible(text, place, findings)
    if not text:
        if column.required and not column.may_be_blank:
            findings.error("blank", f"blank; {column.meaning} is needed here.", place)
        return None
    try:
        value = _read(text, column)
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


def _read(text: str, column: Column) -> Any:
    if text.startswith("=") and len(text) > 1:
        raise BadCell("a formula whose result the file does not hold. Open and save it, or write the value.")
    if column.choices:
        return _chosen(text, column)
    return measured(text, column) if column.kind == "number" else _READERS[column.kind](text)


def _chosen(text: str, column: Column) -> str | tuple[str, ...]:
    """Return the choice, or the choices of a cell of `words`; what is none of them names the nearest."""
    words = cells.several(text) if column.kind == "words" else (text,)
    wrong = [word for word in words if word.lower() not in column.choices]
    if wrong:
        known = ", ".join(column.choices)
        said = [f'"{shortened(w)}" is none of {known}.{did_you_mean(nearest(w, column.choices))}' for w in wrong]
        raise BadCell(" ".join(said))
    chosen = tuple(dict.fromkeys(word.lower() for word in words))
    return chosen if column.kind == "words" else chosen[0]


def _out_of_range(size: float, text: str, column: Column) -> str:
    unit = 100 if column.kind in {"share", "purity", "reported"} else 1
    sign = " %" if unit == 100 else ""
    text = shortened(text)
    if size <= column.above:
        return f'"{text}" must be above {column.above * unit:g}{sign}.'
    if size < column.least:
        return f'"{text}" is below {column.least * unit:g}{sign}.'
    if size > column.most:
        return f'"{text}" is over {column.most * unit:g}{sign}.'
    return ""
