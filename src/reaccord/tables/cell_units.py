"""Units beside a number in a cell: `250 g`, `12.50 €`, `18 months`."""

from __future__ import annotations

import re

from reaccord.names.text import shortened
from reaccord.tables.cells import BadCell, number
from reaccord.tables.columns import Column

_GRAM = {"g": 1.0, "gr": 1.0, "gram": 1.0, "grams": 1.0, "kg": 1000.0, "mg": 0.001}
_WITH_UNIT = re.compile(r"(?P<before>[€$£¥]|[A-Z]{3})?\s*(?P<number>[+-]?[\d.]+)\s*(?P<unit>[^\d\s.][^\d]*)?")
_MONEY = re.compile(r"(?:[€$£¥]|[A-Z]{3})?(?:\s*(?:/|per)\s*kg)?")
_MONTHS = re.compile(r"m|mo|mon|months?", re.IGNORECASE)


def measured(text: str, column: Column) -> float:
    """Read a number; behind it may stand the unit of its column, or one of mass among grams.

    Raises
    ------
    BadCell
        If it is no number, or in another unit.
    """
    found = _WITH_UNIT.fullmatch(text)
    unit = (found["unit"] or "").strip() if found else ""
    if not found or not (unit or found["before"]):
        return number(text)
    if column.name.endswith("_g") or column.name == "grams":
        factor = _GRAM.get(unit.lower().rstrip("."))
        if factor and not found["before"]:
            return number(found["number"]) * factor if factor != 1 else number(found["number"])
        raise BadCell(f'"{shortened(text)}" is not in grams.' if any(c.isalpha() for c in unit) else _no(text))
    if column.name in {"price_per_kg", "cost"} and _MONEY.fullmatch(unit):
        return number(found["number"])
    if column.name == "keeps_months" and not found["before"] and _MONTHS.fullmatch(unit):
        return number(found["number"])
    raise BadCell(_no(text))


def _no(text: str) -> str:
    return f'"{shortened(text)}" is not a number.'
