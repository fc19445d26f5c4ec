"""Bytes of a file into cells of text, with the line each row starts on."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from reaccord.domain.tables import InputFile
from reaccord.findings import Findings, Place

LARGEST_FILE = 64 * 2**20
"""Bytes. Three thousand bottles of two hundred constituents each are under a third of this."""


@dataclass(frozen=True)
class RawTable:
    """A table as text: headings and, per row, the line it starts on and its cells by heading."""

    file: str
    headings: tuple[str, ...]
    rows: tuple[tuple[int, Mapping[str, str]], ...]


def read_bytes(path: Path, file: str, findings: Findings) -> tuple[bytes, InputFile] | None:
    """Read a whole file; a folder, a missing, huge, empty or unreadable file is an error finding."""
    place = Place(file)
    try:
        if path.is_dir():
            findings.error("not-a-file", f"this is a folder, not a file: {path}", place)
            return None
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        findings.error("file-missing", f"there is no such file: {path}", place)
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
    return None if lines is None else table_of_rows(lines, file, findings)


def table_of_rows(lines: list[tuple[int, list[str]]], file: str, findings: Findings) -> RawTable | None:
    """Take the first of the numbered rows as headings and the others as rows under them."""
    if not lines:
        findings.error("empty-table", "the table is empty. Its first line must be the headings.", Place(file))
        return None
    headings = _headings(lines[0], file, findings)
    if headings is None:
        return None
    rows = []
    for line, cells in lines[1:]:
        if len(cells) > len(headings) and any(cells[len(headings) :]):
            findings.error(
                "too-many-cells",
                f"{len(cells)} cells under {len(headings)} headings. A cell with a comma in it needs quotes.",
                Place(file, line),
            )
        padded = [*cells, *[""] * (len(headings) - len(cells))][: len(headings)]
        rows.append((line, dict(zip(headings, padded, strict=True))))
    if not rows:
        findings.error("empty-table", "there are headings but no rows.", Place(file))
        return None
    return RawTable(file, tuple(headings), tuple(rows))


def clean(cell: str) -> str:
    """Return a cell without blanks at its ends; a no-break blank is a blank."""
    return cell.replace("\u00a0", " ").strip()


def _lines(text: str, file: str, delimiter: str, findings: Findings) -> list[tuple[int, list[str]]] | None:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        return list(_numbered(reader))
    except csv.Error as fault:
        findings.error("csv", f"not a proper table here: {fault}.", Place(file, max(reader.line_num, 1)))
        return None


def _numbered(reader: Iterator[list[str]]) -> Iterator[tuple[int, list[str]]]:
    start = 1
    for cells in reader:
        trimmed = [clean(cell) for cell in cells]
        if any(trimmed):
            yield start, trimmed
        start = reader.line_num + 1  # type: ignore[attr-defined]


def _separated(first: tuple[int, list[str]], file: str, delimiter: str, findings: Findings) -> bool:
    """Whether the headings are apart; a lone heading with another separator in it is an error."""
    line, cells = first
    other = ";" if delimiter == "," else ","
    if sum(bool(cell) for cell in cells) == 1 and other in cells[0]:
        want = "commas" if delimiter == "," else "tabs"
        findings.error("delimiter", f'the headings are separated by "{other}". Save with {want}.', Place(file, line))
        return False
    return True


def _headings(first: tuple[int, list[str]], file: str, findings: Findings) -> list[str] | None:
    line, cells = first
    while cells and not cells[-1]:
        cells = cells[:-1]
    seen: set[str] = set()
    for number, heading in enumerate(cells, start=1):
        if not heading:
            findings.error("heading", f"heading number {number} is blank.", Place(file, line))
            return None
        if heading in seen:
            findings.error("heading", "this heading stands twice.", Place(file, line, heading))
            return None
        seen.add(heading)
    return cells
