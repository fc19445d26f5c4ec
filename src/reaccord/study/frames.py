"""Data frames as the tables of a study: their cells as a file would hold them."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from reaccord.domain.tables import InputFile
from reaccord.findings import Findings, Place
from reaccord.tables.heading_row import table_of_rows
from reaccord.tables.raw import RawTable, clean

if TYPE_CHECKING:
    import pandas as pd


def table_of_frame(
    name: str, frames: Mapping[str, pd.DataFrame], findings: Findings
) -> tuple[RawTable, InputFile] | None:
    """Return the frame of that name as a raw table, with the hash of its cells; None when a finding says why not."""
    if name not in frames:
        findings.error("file-missing", "there is no frame of that name.", Place(name))
        return None
    frame = frames[name]
    lines = [(1, [clean(str(column)) for column in frame.columns])]
    for line, cells in enumerate(frame.itertuples(index=False, name=None), start=2):
        texts = [_text(cell) for cell in cells]
        if any(texts):
            lines.append((line, texts))
    table = table_of_rows(lines, name, findings)
    digest = hashlib.sha256(repr(lines).encode(errors="backslashreplace")).hexdigest()
    return None if table is None else (table, InputFile(name, digest))


def _text(cell: Any) -> str:
    """Return a cell of a frame as a file would hold it; a missing value is a blank."""
    if cell is None or str(cell) in {"nan", "NaT", "<NA>"}:
        return ""
    if isinstance(cell, bool) or type(cell).__name__ == "bool":
        return "yes" if cell else "no"
    if isinstance(cell, datetime.datetime) and cell.time() == datetime.time():
        return cell.date().isoformat()
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return clean(str(cell))
