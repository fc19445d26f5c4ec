"""Dates as people write them: day and month are told apart by a column that allows one order only."""

from __future__ import annotations

import datetime
import re
from collections.abc import Collection
from dataclasses import replace

from reaccord.findings import Findings
from reaccord.tables.raw import RawTable

_DATE = re.compile(r"(\d{1,2})([./-])\s?(\d{1,2})\2\s?(\d{4})", re.ASCII)
_MONTH = re.compile(r"\d{4}-\d{2}", re.ASCII)
DAY_FIRST, MONTH_FIRST = "day.month.year", "month.day.year"


def with_iso_dates(raw: RawTable, columns: Collection[str], findings: Findings, *, whole: bool) -> RawTable:
    """Return the table with dates of these columns as 2026-11-25 where they can only mean one day.

    `whole` asks for a day: a month alone is its first one, the earliest it can be.
    """
    rows = [dict(row) for _, row in raw.rows]
    for heading in columns:
        orders = _orders([row[heading] for row in rows])
        said = set()
        for row in rows:
            found = _DATE.fullmatch(row[heading])
            if found and (len(orders) == 1 or found[1] == found[3]):
                order = next(iter(orders), DAY_FIRST)
                row[heading] = _iso(found, order)
                said.add(f"dates read as {order}.")
            elif whole and _MONTH.fullmatch(row[heading]):
                row[heading] += "-01"
                said.add("a month read as its first day.")
        for sentence in sorted(said):
            findings.warn("taken-as", sentence, raw.heading(heading))
    return replace(raw, rows=tuple((line, row) for (line, _), row in zip(raw.rows, rows, strict=True)))


def _orders(cells: Collection[str]) -> set[str]:
    """Return the orders in which every date of a column is one."""
    dates = [found for cell in cells if (found := _DATE.fullmatch(cell))]
    return {order for order in (DAY_FIRST, MONTH_FIRST) if dates and all(_is_date(found, order) for found in dates)}


def _iso(found: re.Match[str], order: str) -> str:
    day, month = (found[1], found[3]) if order == DAY_FIRST else (found[3], found[1])
    return f"{found[4]}-{int(month):02}-{int(day):02}"


def _is_date(found: re.Match[str], order: str) -> bool:
    try:
        datetime.date.fromisoformat(_iso(found, order))
    except ValueError:
        return False
    return True
