"""The schema as tables of Markdown: what to write in a column or behind a key, and what it means."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import MISSING, fields
from typing import Any

from reaccord.domain import settings
from reaccord.tables.columns import TABLES, Column
from reaccord.tables.study_key import Key
from reaccord.tables.studyfile import AMOUNT, SECTIONS

KEYS: Mapping[str, Mapping[str, Key]] = {
    **{name or "study": keys for name, keys in SECTIONS.items()},
    "limits.amount": AMOUNT,
}
"""Every section of the study file; `study` is what stands outside one."""

_SETTINGS: Mapping[str, type] = {
    "target": settings.TargetSettings,
    "shelf": settings.ShelfSettings,
    "batch": settings.BatchSettings,
    "balance": settings.BalanceSettings,
    "dilutions": settings.DilutionSettings,
    "limits": settings.LimitSettings,
    "limits.amount": settings.AmountSettings,
    "fit": settings.FitSettings,
}
_CELL = {
    "text": "text",
    "cas": "`78-70-6`",
    "name": "a name",
    "names": "names, `;` between",
    "words": "words, `;` between:",
    "number": "number",
    "whole": "whole number",
    "share": "percent",
    "purity": "percent, or `> 95 %`, `97-99`",
    "reported": "percent, `tr`, `nd`",
    "date": "date, `2026-01-15`",
    "some date": "date: `2026-01-15`, `2026-01`, `2026`",
    "yes/no": "`yes` or `no`",
    "choice": "",
    "free": "anything",
}
_VALUE = {
    "text": '`"text"`',
    "texts": '`["text", "text"]`',
    "date": "`2026-01-15`",
    "number": "number",
    "whole": "whole number",
    "share": '`"10 %"`',
    "shares": '`["10 %", "1 %"]`',
    "choice": "",
    "amounts": "a `[[limits.amount]]` each",
}
NOTHING, BEYOND = 1e-6, 1e6
"""What begins or ends only there has no end that anybody would ask for."""
_PERCENT = {"share", "shares", "purity", "reported"}


def columns_of(table: str) -> str:
    """Return the columns of a table."""
    rows = [(f"`{column.name}`", _write(column, _CELL), column.meaning) for column in TABLES[table]]
    return _table(("column", "write", "meaning"), rows)


def keys_of(section: str) -> str:
    """Return the keys of a section of the study file."""
    defaults = _defaults(section)
    rows = [
        (f"`{name}`", _write(key, _VALUE), key.meaning + _default(defaults.get(name), key))
        for name, key in KEYS[section].items()
    ]
    return _table(("key", "write", "meaning"), rows)


def _defaults(section: str) -> dict[str, Any]:
    if section not in _SETTINGS:
        return {}
    return {field.name: field.default for field in fields(_SETTINGS[section]) if field.default is not MISSING}


def _default(value: Any, key: Key) -> str:
    """Return what holds without the key, where that is something."""
    if value in (None, "", ()):
        return ""
    return f"; without it {_percent(value)} %" if key.takes in _PERCENT else f"; without it {value}"


def _write(field: Column | Key, words: Mapping[str, str]) -> str:
    """Return what may be written: kind, allowed words, unit, range, and whether it must be there."""
    kind = field.kind if isinstance(field, Column) else field.takes
    allowed = ", ".join(f"`{choice}`" for choice in field.choices)
    said = " ".join(part for part in (words[kind], allowed) if part)
    needed = "needed" if field.required else ""
    return ", ".join(part for part in (said, field.unit, _range(field, kind in _PERCENT), needed) if part)


def _range(field: Column | Key, shares: bool) -> str:
    """Return the range where it is not what anybody expects (nothing negative, no share over 100 %)."""
    shown = _percent if shares else "{:g}".format
    ends = []
    if field.least > NOTHING:
        ends.append(f"from {shown(field.least)}")
    if field.most < BEYOND and not (shares and field.most == 1):
        ends.append(f"up to {shown(field.most)}")
    return " ".join(ends)


def _percent(share: float) -> str:
    return f"{share * 100:g}"


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table of Markdown whose columns line up in a pipe, too."""
    lines = [tuple(head), *map(tuple, rows)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head))]
    rule = tuple("-" * width for width in widths)
    return "\n".join(
        "| " + " | ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) + " |"
        for line in (lines[0], rule, *lines[1:])
    )
