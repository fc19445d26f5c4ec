"""The two tables of a blind test, typed rows -> lines: the key, and the serving sheet with its answers."""

from __future__ import annotations

from pathlib import Path

from reaccord.domain.lines import AnswerLine, KeyLine
from reaccord.domain.tables import InputFile
from reaccord.findings import Findings, Place
from reaccord.tables import columns
from reaccord.tables.headings import settle_headings
from reaccord.tables.raw import RawTable, read_bytes
from reaccord.tables.read import any_table
from reaccord.tables.rows import typed_rows


def read_key(path: Path, findings: Findings) -> tuple[tuple[KeyLine, ...], InputFile] | None:
    """Read the key of a blind test; None where a finding says why not."""
    found = _table(path, findings)
    if found is None:
        return None
    raw, file = found
    lines = [
        KeyLine(place, values["assessor"] or "", values["position"] or 0, values["code"] or "", values["sample"] or "")
        for place, values in typed_rows(settle_headings(raw, columns.KEY, {}, findings), columns.KEY, findings)
    ]
    return tuple(lines), file


def read_answers(path: Path, findings: Findings) -> tuple[tuple[AnswerLine, ...], InputFile] | None:
    """Read the answers, rows without one left out. None where a finding says why not."""
    found = _table(path, findings)
    if found is None:
        return None
    raw, file = found
    lines = [
        AnswerLine(place, values["assessor"] or "", values["answer"])
        for place, values in typed_rows(settle_headings(raw, columns.ANSWERS, {}, findings), columns.ANSWERS, findings)
        if values["answer"]
    ]
    if not lines:
        findings.error("empty-table", "nobody has answered: fill in the column answer.", Place(raw.file))
    return tuple(lines), file


def _table(path: Path, findings: Findings) -> tuple[RawTable, InputFile] | None:
    return any_table(path.name, lambda name: read_bytes(path.parent / name, name, findings), findings)
