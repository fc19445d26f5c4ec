"""What materials are made of, as suppliers and laboratories write it, into the parts of each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from reaccord.domain.lines import CompositionLine, Reported
from reaccord.findings import Findings, Place
from reaccord.tables import columns
from reaccord.tables.dilution import doubt_dilution
from reaccord.tables.heading_words import WORDS
from reaccord.tables.headings import settle_headings, without_asides, without_cas
from reaccord.tables.left_out import without_left_out
from reaccord.tables.raw import RawTable
from reaccord.tables.rows import typed_rows
from reaccord.tables.samples import say_area
from reaccord.tables.tokens import say_taken


def composition_lines(
    raw: RawTable, findings: Findings, known: Callable[[str], bool] = lambda _: False
) -> tuple[CompositionLine, ...]:
    """Return the parts of all materials; low <= share <= high is checked.

    `known` tells whether a name is one of something known: its row is never taken for a title.
    """
    raw = given = without_cas(without_asides(raw, findings), findings)
    raw = settle_headings(raw, columns.COMPOSITIONS, WORDS["compositions"], findings)
    shares = [said for said, heading in zip(given.headings, raw.headings, strict=True) if heading == "share"]
    raw = _filled_down(without_left_out(raw, "part", findings, known, analysis=True), findings)
    written = dict(raw.rows)
    lines = []
    shown: list[tuple[Place, str, Reported | None]] = []
    for place, values in typed_rows(raw, columns.COMPOSITIONS, findings):
        material, part = values.pop("material") or "", values.pop("part") or ""
        share: Reported | None = values.pop("share")
        shown.append((place, "share", share))
        if share is not None and share.ranges:
            values["low"] = share.low if values["low"] is None else values["low"]
            values["high"] = share.high if values["high"] is None else values["high"]
            share = Reported(share.number)
        given_values = {name: value for name, value in values.items() if value is not None}
        line = CompositionLine(place, material, part, share or Reported(0.0), **given_values)
        if share is not None and line.low is not None and line.low > share.high:
            findings.error("band", "low is above the share.", place.at("low"))
        if share is not None and line.high is not None and line.high < share.number:
            findings.error("band", "high is below the share.", place.at("high"))
        doubt_dilution(line, written[place.row or 0], findings)
        if material and part:
            lines.append(line)
    say_taken(shown, findings)
    by_area = {line.material.casefold() for line in lines if line.basis == "fid-area"}
    if any(line.material.casefold() not in by_area for line in lines):
        say_area(given, shares, "fid-area in the column basis", findings)
    return tuple(lines)


def _filled_down(raw: RawTable, findings: Findings) -> RawTable:
    """Return the table with the material, and its lot, in the rows below the one that names it."""
    if "material" not in raw.headings or "part" not in raw.headings:
        return raw
    rows, doubts = [], []
    above: dict[str, str] = {}
    for line, row in raw.rows:
        if row["part"] and not row["material"] and above:
            rows.append((line, {**row, **{name: cell for name, cell in above.items() if not row[name]}}))
            doubts.append((Place(raw.file, line, "material"), "blank: taken as the material above"))
        else:
            rows.append((line, dict(row)))
        if row["material"]:
            above = {name: row[name] for name in ("material", "lot", "basis") if name in raw.headings}
    findings.warn_once("taken-as", doubts)
    return replace(raw, rows=tuple(rows))
