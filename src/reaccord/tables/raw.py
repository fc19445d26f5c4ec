"""Bytes of a file into cells of text, with the line each row starts on."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from reaccord.domain.tables import InputFile
from reaccord.findings import Findings, Place
from reaccord.tables.heading_words import is_aside
from reaccord.tables.written import visible

LARGEST_FILE = 64 * 2**20
"""Bytes. Three thousand bottles of two hundred constituents each are under a third of this."""
LONGEST_HEADING = 200
"""Characters."""


@dataclass(frozen=True)
class RawTable:
    """A table as text: headings and, per row, the line it starts on and its cells by heading."""

    file: str
    headings: tuple[str, ...]
    rows: tuple[tuple[int, Mapping[str, str]], ...]


def read_bytes(path: Path, file: str, findings: Findings) -> tuple[bytes, InputFile] | None:
    """Read a whole file; a folder, a pipe, a missing, huge, empty or unreadable file is an error finding."""
    place = Place(file)
    where = "." if str(path) == file else f": {path}"
    try:
        if path.is_dir():
            findings.error("not-a-file", f"this is a folder, not a file{where}", place)
            return None
        if path.exists() and not path.is_file():  # opening a pipe would wait until somebody writes to it
            findings.error("not-a-file", f"not a regular file, but a pipe or a device{where}", place)
            return None
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        findings.error("file-missing", f"there is no such file{where}", place)
        return None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        findings.error("file-unreadable", f"cannot be read ({reason}): {path}", place)
        return None
    if len(content) > LARGEST_FILE:
        findings.error(
            "file-too-large",
            f"larger than {LARGEST_FILE // 2**20} MiB; a table for this is far smaller. Is it the right file?",
            place,
        )
        return None
    return content, InputFile(file, hashlib.sha256(content).hexdigest())


def decode(content: bytes, file: str, findings: Findings) -> str | None:
    """Decode UTF-8 with or without byte-order mark; anything else is an error that shows the line."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = content.count(b"\n", 0, fault.start) + 1
        findings.error(
            "encoding",
            f"byte {content[fault.start]:#04x} is not UTF-8. Save the file as UTF-8.",
            Place(file, line),
        )
        return None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        findings.error("encoding", "a NUL byte: this is not a text table in UTF-8.", Place(file, line))
        return None
    return text


def table_of_bytes(content: bytes, file: str, findings: Findings) -> RawTable | None:
    """Read the bytes of a CSV (comma) or TSV (tab, by the ending `.tsv`) file; None if a finding says why not."""
    text = decode(content, file, findings)
    if text is None:
        return None
    return parse_text(text, file, "\t" if file.lower().endswith(".tsv") else ",", findings)


def parse_text(text: str, file: str, delimiter: str, findings: Findings) -> RawTable | None:
    """Split text into headings and rows; rows without any cell filled are passed over."""
    lines = _lines(text, file, delimiter, findings)
    if lines and not _separated(lines[0], file, delimiter, findings):
        return None
    sign = "comma" if delimiter == "," else "tab"
    cure = f" A cell with a {sign} in it needs quotes."
    return None if lines is None else table_of_rows(lines, file, findings, cure)


def table_of_rows(
    lines: list[tuple[int, list[str]]], file: str, findings: Findings, too_many: str = ""
) -> RawTable | None:
    """Take the first of the numbered rows as headings and the others as rows under them.

    `too_many` says what to do with a row that has more cells than there are headings.
    """
    if not lines:
        findings.error("empty-table", "the table is empty. Its first line must be the headings.", Place(file))
        return None
    width = len(lines[0][1]) if too_many else max(len(cells) for _, cells in lines)
    headings = _headings(lines, width, file, findings)
    if headings is None:
        return None
    if len(lines) > 2 and all(any(cells[len(headings) :]) for _, cells in lines[1:]):
        text = f"every row has more cells than there are headings ({len(headings)}). Give each column one."
        findings.error("heading", text, Place(file, lines[0][0]))
        return None
    rows = []
    for line, cells in lines[1:]:
        if len(cells) > len(headings) and any(cells[len(headings) :]):
            findings.error(
                "too-many-cells",
                f"{len(cells)} cells under {len(headings)} heading{'s' * (len(headings) != 1)}.{too_many}",
                Place(file, line),
            )
        padded = [*cells, *[""] * (len(headings) - len(cells))][: len(headings)]
        rows.append((line, dict(zip(headings, padded, strict=True))))
    return RawTable(file, tuple(headings), tuple(rows))


def clean(cell: str) -> str:
    """Return a cell without blanks at its ends; a no-break blank is a blank."""
    return cell.replace("\u00a0", " ").strip()


def _lines(text: str, file: str, delimiter: str, findings: Findings) -> list[tuple[int, list[str]]] | None:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    lines: list[tuple[int, list[str]]] = []
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


def _separated(first: tuple[int, list[str]], file: str, delimiter: str, findings: Findings) -> bool:
    """Whether the headings are apart; more of another separator than of the right one is an error."""
    line, cells = first
    cures = {
        (",", ";"): "Save with commas, and numbers with points.",
        (",", "\t"): "Save with commas, or name the file .tsv.",
        ("\t", ","): "Save with tabs, or name the file .csv.",
        ("\t", ";"): "Save with tabs, and numbers with points.",
    }
    filled = [cell for cell in cells if cell]
    for (right, other), cure in cures.items():
        if right == delimiter and sum(cell.count(other) for cell in filled) > len(filled) - 1:
            name = "tabs" if other == "\t" else f'"{other}"'
            findings.error("delimiter", f"the headings are separated by {name}. {cure}", Place(file, line))
            return False
    return True


def _headings(lines: list[tuple[int, list[str]]], width: int, file: str, findings: Findings) -> list[str] | None:
    """Return the headings; a blank one above filled cells, one too long, or one that stands twice is an error.

    Of the columns only the first `width` can be said to have no heading; a row with more has cells too many.
    """
    line, cells = lines[0]
    place = Place(file, line)
    while cells and not cells[-1]:
        cells = cells[:-1]
    for number, heading in enumerate(cells, start=1):
        if not heading:
            findings.error("heading", f"heading number {number} is blank.", place)
            return None
        if len(heading) > LONGEST_HEADING:
            text = f"heading number {number} has {len(heading)} characters. Is this line the headings?"
            findings.error("heading", text, place)
            return None
    for number in range(len(cells) + 1, width + 1):
        if any(len(row) >= number and row[number - 1] for _, row in lines[1:]):
            findings.error("heading", f"heading number {number} is blank, but there are cells under it.", place)
            return None
    seen = [" ".join(visible(heading, place, findings).splitlines()) for heading in cells]
    return _once(seen, place, findings)


def _once(headings: list[str], place: Place, findings: Findings) -> list[str] | None:
    seen: dict[str, str] = {}
    for number, given in enumerate(headings):
        heading = given
        while heading.casefold() in seen and is_aside(given):  # of no use, so that two are no harm: `A, SD, B, SD`
            heading += " "
        headings[number] = heading
        before = seen.get(heading.casefold())
        if before == heading:
            findings.error("heading", "this heading stands twice.", place.at(heading))
            return None
        if before is not None:
            text = f'"{before}" and "{heading}" differ in capitals only. Give one of them another name.'
            findings.error("heading", text, place.at(heading))
            return None
        seen[heading.casefold()] = heading
    return headings
