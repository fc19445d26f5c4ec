"""Units in headings: what a column cannot be in is asked about, never dropped."""

from __future__ import annotations

import re

from reaccord.findings import Findings
from reaccord.tables.columns import Column
from reaccord.tables.heading_words import no_mass, small_unit
from reaccord.tables.raw import RawTable

_SIGNED = ("%", "‰", "ppm")
_UNIT = re.compile(
    r"[\(\[,/ ]+(?:as )?(?:fractions?|parts|vol(?:ume)?\b\.? ?%?|mol(?:e|ar)?\b\.? ?%?|v/v|w/v|ppm|ppb|‰|m?l|k?g|mg"
    r"|oz|lbs?|drops?|days?|weeks?|years?|(?:/|per ?)?(?:100 ?g|g|kg|lb|oz|l|ml))[\)\]]?$",
    re.IGNORECASE,
)
_FRACTION = re.compile(r"(?:[\(\[,]\s*(?:as )?|mass |weight )(fractions?|parts\b(?! per))", re.IGNORECASE)
_GRAM = re.compile(r"(?<![/\w])(?:kg|mg|µg|oz|lbs?|ml|l|drops?)\b(?!\w)", re.IGNORECASE)
_PER = re.compile(r"(?:/|per)\s*(?:\d+\s*)?(?!kg|kilo)(?:g|mg|lb|lbs|oz|l|ml|unit|bottle)\b", re.IGNORECASE)
_NO_MONTHS = re.compile(r"\b(?:days?|weeks?|years?)\b", re.IGNORECASE)


def without_unit(heading: str) -> str:
    """Return a heading without the unit behind it: `low (fraction)` is `low`."""
    return _UNIT.sub("", heading)


def check_unit(raw: RawTable, heading: str, column: Column, findings: Findings) -> None:
    """Ask where a heading states a unit that its column is not in."""
    fault = ""
    if column.kind in {"share", "purity", "reported"}:
        fault = share_unit(raw, heading)
    elif column.name.endswith("_g") or column.name == "grams":
        found = _GRAM.search(heading)
        fault = f'the heading says "{found[0]}". Give grams.' if found else ""
    elif column.name == "price_per_kg":
        found = _PER.search(heading)
        fault = f'the heading says "{found[0]}". Give the price of a kilogram.' if found else ""
    elif column.name == "keeps_months":
        found = _NO_MONTHS.search(heading)
        fault = f'the heading says "{found[0]}". Give months.' if found else ""
    if fault:
        findings.error("unit", fault, raw.heading(heading))


def share_unit(raw: RawTable, heading: str) -> str:
    """Return what to do about a unit over a column of shares that is no percent by mass; "" if there is none."""
    said = raw.said(heading)
    other, small, fraction = no_mass(said), small_unit(said), _FRACTION.search(said)
    if other:
        return f'"{other}" is no share by mass. Give percent by mass.'
    unsigned = any(_unsigned(row[heading]) for _, row in raw.rows)
    if small and unsigned:
        text = f'the heading says "{small}", but a plain number is percent: write each cell with its sign '
        return f"{text}(40 ppm, 4 ‰), or give percent by mass."
    if fraction and unsigned:
        return f'the heading says "{fraction[1]}", but a plain number is percent: give percent by mass.'
    return ""


def _unsigned(cell: str) -> bool:
    return any(char.isdigit() for char in cell) and not any(sign in cell for sign in _SIGNED)
