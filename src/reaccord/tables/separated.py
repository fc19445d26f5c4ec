"""Text into numbered rows of cells: commas, semicolons, tabs, or the bars of a markdown table."""

from __future__ import annotations

import csv
import io
import re

from reaccord.findings import Findings, Place
from reaccord.tables.heading_row import Lines, table_of_rows
from reaccord.tables.raw import RawTable, clean, decode

_SIGNS = {",": "commas", ";": "semicolons", "\t": "tabs"}
_RULE = re.compile(r"\|?\s*:?-+:?\s*(?:\|\s*:?-+:?\s*)*\|?")
"""The line under the headings of a markdown table."""
_LOOKED_AT = 15
"""Lines: titles stand above the headings, so that the first line alone does not tell what parts the cells."""


def table_of_bytes(content: bytes, file: str, findings: Findings) -> RawTable | None:
    """Read the bytes of a table of text; None if a finding says why not."""
    text = decode(content, file, findings)
    if text is None:
        return None
    return parse_text(text, file, "\t" if file.lower().endswith(".tsv") else ",", findings)


def parse_text(text: str, file: str, delimiter: str, findings: Findings) -> RawTable | None:
    """Split text into headings and rows; rows without any cell filled are passed over.

    `delimiter` is the sign that the ending of the file promises. Another one that parts the headings is read as well,
    and said; so are the bars of a markdown table.
    """
    bars = _piped(text)
    if bars is not None:
        return table_of_rows(bars, file, findings)
    parted = _parting(text, delimiter)
    if parted != delimiter:
        findings.warn("taken-as", f"the cells are parted by {_SIGNS[parted]}; read so.", Place(file))
    lines = _lines(text, file, parted, findings)
    return None if lines is None else table_of_rows(lines, file, findings, parted)


def _parting(text: str, promised: str) -> str:
    """Return the sign that parts the cells: the promised one, unless another stands more steadily, line by line."""
    first = [line for line in text.splitlines() if line.strip()][:_LOOKED_AT]
    found = {sign: _steady([_outside_quotes(line, sign) for line in first]) for sign in _SIGNS} if first else {}
    return max(_SIGNS, key=lambda sign: (found[sign], sign == promised)) if any(map(any, found.values())) else promised


def _steady(counts: list[int]) -> tuple[float, int]:
    """Return in what part of the lines a sign stands equally often, and how often that is."""
    usual = max(sorted(set(counts), reverse=True), key=counts.count)
    return (counts.count(usual) / len(counts), usual) if usual else (0.0, 0)


def _outside_quotes(line: str, sign: str) -> int:
    return sum(piece.count(sign) for piece in line.split('"')[::2])


def _piped(text: str) -> Lines | None:
    """Return the rows of a markdown table, or None if this is none; what stands round it is no row."""
    lines = text.splitlines()
    rule = next((n for n, line in enumerate(lines) if "|" in line and _RULE.fullmatch(line.strip())), None)
    if not rule:
        return None
    rows = ((n, line.strip()) for n, line in enumerate(lines, start=1) if n != rule + 1 and "|" in line)
    parted = ((n, [clean(cell) for cell in _bars(line)]) for n, line in rows)
    return [(n, cells) for n, cells in parted if any(cells)]


def _bars(line: str) -> list[str]:
    inside = line.removeprefix("|")
    return re.split(r"(?<!\\)\|", inside[:-1] if inside.endswith("|") else inside)


def _lines(text: str, file: str, delimiter: str, findings: Findings) -> Lines | None:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    lines: Lines = []
    start = 1
    try:
        for cells in reader:
            trimmed = [clean(cell) for cell in cells]
            if any(trimmed):
                lines.append((start, trimmed))
            start = reader.line_num + 1
    except csv.Error as fault:
        reason = f"not a proper table here: {fault}."
        if reader.line_num > start or "end of data" in str(fault):
            reason = f"a quote opens in this row and is not closed by row {reader.line_num}. Close it, or take it out."
        findings.error("csv", reason, Place(file, start))
        return None
    return lines
