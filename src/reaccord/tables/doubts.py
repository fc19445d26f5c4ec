"""Which rows were read with an error: what only follows from that is no finding of its own."""

from __future__ import annotations

from reaccord.findings import Findings, Place

HEADINGS = 1
"""The row of the headings."""


def doubtful(findings: Findings, place: Place) -> bool:
    """Whether an error stands in this row, in the headings of its table, or on its whole file."""
    rows = {place.row, HEADINGS, None}
    return any(found.place.file == place.file and found.place.row in rows for found in findings.errors)


def doubtful_cell(findings: Findings, place: Place) -> bool:
    """Whether an error stands on this very cell."""
    return any(found.place == place for found in findings.errors)
