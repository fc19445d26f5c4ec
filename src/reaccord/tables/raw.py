"""The bytes of a file, and a table of text with the line each row starts on."""

from __future__ import annotations

import hashlib
import stat
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from reaccord.domain.tables import InputFile
from reaccord.findings import Findings, Place

LARGEST_FILE = 64 * 2**20
"""Bytes. Three thousand bottles of two hundred constituents each are under a third of this."""


@dataclass(frozen=True)
class RawTable:
    """A table as text: headings and, per row, the line it starts on and its cells by heading.

    `top` is the line of the headings; `over` what stands above a heading that spans several (`Content, %` above
    `Fruits` and `Leaves`); `cut` the sign that parts the cells, where a cell may have been cut by it.
    """

    file: str
    headings: tuple[str, ...]
    rows: tuple[tuple[int, Mapping[str, str]], ...]
    top: int = 1
    over: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    cut: str = ""

    def said(self, heading: str) -> str:
        """Return a heading with what stands above it."""
        return " ".join((*self.over.get(heading, ()), heading))

    def heading(self, heading: str) -> Place:
        """Return the place of a heading."""
        return Place(self.file, self.top, heading)


def read_bytes(path: Path, file: str, findings: Findings) -> tuple[bytes, InputFile] | None:
    """Read a whole file; a folder, a pipe, a missing, huge, empty or unreadable file is an error finding."""
    place = Place(file)
    where = "." if str(path) == file else f": {path}"
    try:
        said = path.stat()
        if stat.S_ISDIR(said.st_mode):
            findings.error("not-a-file", f"this is a folder, not a file{where}", place)
            return None
        if not stat.S_ISREG(said.st_mode):  # opening a pipe would wait until somebody writes to it
            findings.error("not-a-file", f"not a regular file, but a pipe or a device{where}", place)
            return None
        with path.open("rb") as stream:
            content = stream.read(min(said.st_size, LARGEST_FILE) + 1)  # room for a whole LARGEST_FILE takes time
            if len(content) > said.st_size:  # it has grown, or is of those that tell no size
                content += stream.read(LARGEST_FILE + 1 - len(content))
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


def clean(cell: str) -> str:
    """Return a cell without blanks at its ends; a no-break blank is a blank."""
    return cell.replace("\u00a0", " ").strip()
