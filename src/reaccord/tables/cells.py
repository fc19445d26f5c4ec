"""One cell of text into one value. Nothing is guessed: what cannot be read raises `BadCell`."""

from __future__ import annotations

import datetime
import re
from decimal import Decimal

from reaccord.names.text import shortened

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:,[0-9]{3})+")
_SMALLEST, _LARGEST = -12, 12
"""Powers of ten between which a number on a shelf or in an analysis lies; a microgram is 1e-6 g, a ppt 1e-10 %."""
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_POINT_LOST = re.compile(r"0(0*[1-9][0-9]*)")
_RATIO = re.compile(r"([0-9]{1,4})\s*:\s*([0-9]{1,6})")
_SOME_DATE = re.compile(r"[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?")
_EITHER_WAY = re.compile(r"([0-9]{1,2})[./-] ?([0-9]{1,2})[./-] ?[0-9]{4}")
_SIGNS = {"%": Decimal("0.01"), "‰": Decimal("0.001"), "ppm": Decimal("0.000001")}


class BadCell(ValueError):
    """The text of a cell cannot be what its column asks for; the message says what to do."""


def number(text: str) -> float:
    """Read a decimal number; NaN, infinity and a comma that may part thousands are refused."""
    return float(_decimal(text))


def _decimal(text: str, sign: str = "") -> Decimal:
    """Read the digits of a cell; `sign` is what stood behind them, for the message."""
    cleaned = text.replace("\u2212", "-")
    shown = shortened(f"{text} {sign}".strip() if sign else text)
    if _THOUSANDS.fullmatch(cleaned):
        either = f"{cleaned.replace(',', '.')} or {cleaned.replace(',', '')}"
        raise BadCell(f'"{shown}" may be {shortened(either)}: write which of them, without a comma.')
    if _COMMA.fullmatch(cleaned):
        cleaned = cleaned.replace(",", ".")
    if not _NUMBER.fullmatch(cleaned):
        raise BadCell(f'"{shown}" is not a number.{_of_ratio(cleaned)}')
    value = Decimal(cleaned)
    if value and not _SMALLEST <= value.adjusted() <= _LARGEST:
        raise BadCell(f'"{shown}" is out of all measure.')
    return value


def _of_ratio(text: str) -> str:
    """Return what a ratio (`1:10`) may mean as percent: so many parts in the whole, or beside the rest of it."""
    parts = _RATIO.fullmatch(text)
    one, other = map(int, parts.groups()) if parts else (0, 0)
    if not one or not other:
        return ""
    within, beside = f"{100 * one / other:.3g}", f"{100 * one / (one + other):.3g}"
    if one >= other:
        return f" If it is {one} to {other}, write {beside} %."
    return f" Write {within} % if it is {one} part in {other}, {beside} % if {other} parts came to it."


def share(text: str, *, sign_needed: bool = False) -> float:
    """Read a share as a fraction: a plain number is percent; `%`, `‰` and `ppm` may be written."""
    for sign, unit in _SIGNS.items():
        if text.endswith(sign):
            return float(_decimal(text[: -len(sign)].rstrip(), sign) * unit)
    value = _decimal(text)
    if lost := _POINT_LOST.fullmatch(text):
        either = f"{lost[1].lstrip('0')}, or 0.{lost[1]} without its point"
        raise BadCell(f'"{shortened(text)}" may be {shortened(either)}: write which of them.')
    if sign_needed:
        shown = shortened(text)
        raise BadCell(f'"{shown}" needs its sign here: write "{shown} %", or ‰ or ppm.')
    return float(value * _SIGNS["%"])


def date(text: str) -> datetime.date:
    """Read a date in the extended form of ISO 8601."""
    try:
        if not _DATE.fullmatch(text):
            raise ValueError(text)
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise BadCell(f'"{shortened(text)}" {_no_date(text)} Write it as 2026-11-25.') from None


def _no_date(text: str) -> str:
    """Return why a text is no date: what may be day and month in either order is asked about."""
    found = _EITHER_WAY.fullmatch(text)
    if found and all(1 <= int(part) <= 12 for part in found.groups()):
        return "may be two days: which number is the month?"
    return "is not a date."


def some_date(text: str) -> str:
    """Read a date, a month or a year in the extended form of ISO 8601, and return it so."""
    try:
        if not _SOME_DATE.fullmatch(text):
            raise ValueError(text)
        datetime.date.fromisoformat(text + "0000-01-01"[len(text) :])
    except ValueError:
        raise BadCell(f'"{shortened(text)}" {_no_date(text)} Write it as 2026-11-25, 2026-11 or 2026.') from None
    return text


def yes_no(text: str) -> bool:
    """Read yes or no."""
    if text.lower() in {"yes", "no"}:
        return text.lower() == "yes"
    raise BadCell(f'"{shortened(text)}" is neither yes nor no.')


def whole(text: str) -> int:
    """Read a whole number."""
    value = _decimal(text)
    if value != value.to_integral_value():
        raise BadCell(f'"{shortened(text)}" is not a whole number.')
    return int(value)


def several(text: str) -> tuple[str, ...]:
    """Split at semicolons; blanks between them are dropped."""
    return tuple(part.strip() for part in text.split(";") if part.strip())
