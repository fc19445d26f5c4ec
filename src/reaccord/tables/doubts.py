"""Which rows were read with an error: what only follows from that is no finding of its own."""

from __future__ import annotations

from reaccord.findings import Findings, Place

HEADINGS = 1
"""The row of the headings, wherever they stand."""
_OF_HEADINGS = {"heading", "which-column", "unknown-column", "missing-column", "no-share", "unit"}
"""Codes of errors that stand on a heading: they may be those of any cell under it."""


class Doubts:
    """The rows, headings and whole files that carry an error so far."""

    def __init__(self, findings: Findings) -> None:
        self._rows = {(found.place.file, found.place.row) for found in findings.errors}
        self._rows |= {(found.place.file, HEADINGS) for found in findings.errors if found.code in _OF_HEADINGS}

    def row(self, place: Place) -> bool:
        """Whether an error stands in this row, in the headings of its table, or on its whole file."""
        return any((place.file, row) in self._rows for row in (place.row, HEADINGS, None))

    def table(self, file: str) -> bool:
        """Whether an error stands on the whole file or in its headings."""
        return self.row(Place(file))


def doubtful_column(findings: Findings, file: str, column: str) -> bool:
    """Whether an error stands on a cell of this column."""
    return any(found.place.file == file and found.place.column == column for found in findings.errors)


def doubtful_section(findings: Findings, file: str, section: str) -> bool:
    """Whether a key of this section of the study file is unknown or could not be read: it may be any of its keys."""
    return any(
        found.place.file == file and (found.place.column or "").startswith(f"{section}.")
        for found in findings.errors
        if found.code in {"unknown-key", "bad-value"}
    )


def doubtful_cell(findings: Findings, place: Place) -> bool:
    """Whether an error stands on this very cell."""
    return any(found.place == place for found in findings.errors)
