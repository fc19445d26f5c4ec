"""How large a workbook may be, told from its packed bytes before anything of it is built up."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator

from reaccord.tables.raw import LARGEST_FILE

LARGEST_UNPACKED = 8 * LARGEST_FILE
"""Bytes; a workbook is a packed archive, and a small file can unpack to a huge one."""
MOST_CELLS = 2_000_000
"""Of a sheet, and of the rectangle from its first cell to its last, which is what reading goes through."""
MOST_MERGED = 5_000
"""Merged ranges, and cells that they take in."""
_CHUNK = 2**20
_OVERLAP = 200
"""Bytes; the longest element that is looked for is far shorter."""
SPARSE = 10
"""Times as many cells as are filled; a larger rectangle comes from a cell that strayed. Small ones do no harm:"""
SMALL = 100_000
_CELL = re.compile(rb'<(?:\w+:)?c(?=[ />])(?:[^>]{0,60}?\br="([A-Z]{1,3})(\d{1,7})")?')
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell [^>]{0,60}?ref="([A-Z]{1,3})(\d{1,7})(?::([A-Z]{1,3})(\d{1,7}))?"')


def too_large(content: bytes) -> str:
    """Return what of a workbook is more than any table for this has, and what to do; "" if nothing is."""
    import zipfile  # of no use to tables of text

    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        if sum(item.file_size for item in archive.infolist()) > LARGEST_UNPACKED:
            return "unpacks to far more than any table for this."
        for item in archive.infolist():
            if "worksheets/" in item.filename and item.filename.endswith(".xml"):
                with archive.open(item) as stream:
                    fault = _sheet_too_large(iter(lambda: stream.read(_CHUNK), b""))
                if fault:
                    return fault
    return ""


def _sheet_too_large(chunks: Iterator[bytes]) -> str:
    cells = merged = taken_in = last_row = last_column = 0
    letters = ""
    kept = b""
    for chunk in chunks:
        text = kept + chunk
        whole = text.rfind(b">") + 1  # an element cut in two is read with the next bytes
        for found in _CELL.finditer(text, 0, whole):
            cells += 1
            if not found[1]:
                continue
            row, column = int(found[2]), _column(found[1])
            if column > last_column:
                letters = found[1].decode()
            last_row, last_column = max(last_row, row), max(last_column, column)
        for found in _MERGED.finditer(text, 0, whole):
            merged += 1
            if found[3]:
                taken_in += (int(found[4]) - int(found[2]) + 1) * (_column(found[3]) - _column(found[1]) + 1)
        if cells > MOST_CELLS or merged > MOST_MERGED or taken_in > 10 * MOST_MERGED:
            break
        kept = text[whole:][-_OVERLAP:] if whole else text[-_OVERLAP:]
    if merged > MOST_MERGED or taken_in > 10 * MOST_MERGED:
        return f"has more than {MOST_MERGED} merged cells. Unmerge them, or save the sheet that is meant as CSV."
    if cells > MOST_CELLS:
        return f"a sheet has more than {MOST_CELLS} cells; a table for this is far smaller. Is it the right file?"
    if last_row * last_column > SMALL + SPARSE * cells:
        far = f"{letters}{last_row}"
        return f"a sheet goes as far as {far}, though few of its cells are filled. Delete what stands so far off."
    return ""


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number
