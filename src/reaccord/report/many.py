"""The table at the end of many studies, in the order they were asked for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from reaccord.report.csv_table import Columns, csv_text
from reaccord.report.layout import Column, aligned, counted, on_the_point, paragraph
from reaccord.report.quantities import exact_percent, percent

STATUSES = ("proven", "feasible", "infeasible", "no_answer", "invalid_input", "failed")
COLUMNS = ("study", "sample", "status", "exit_code", "value", "bound", "gap", "cost_per_kg", "lines", "error")


@dataclass(frozen=True, slots=True)
class ResultRow:
    """One result without its formula, so that thousands are light; `number` is its place in the table."""

    number: int
    study: str
    sample: str | None
    status: str
    exit_code: int
    value: float | None
    bound: float | None
    gap: float | None
    cost_per_kg: float | None
    lines: int
    error: str
    taken_over: bool


def row_of(number: int, line: dict[str, Any], taken_over: bool) -> ResultRow:
    """Return what the table shows of a line of results."""
    errors = line["errors"]
    more = f" (and {counted(len(errors) - 1, 'more finding')})" if len(errors) > 1 else ""
    return ResultRow(
        number,
        line["study"],
        line["sample"],
        line["status"],
        line["exit_code"],
        line["value"],
        line["bound"],
        line["gap"],
        line["cost_per_kg"],
        len(line["formula"]),
        _sentence(errors[0]) + more if errors else "",
        taken_over,
    )


def counts(rows: Iterable[ResultRow]) -> dict[str, int]:
    """Return how many have each status; none: not there."""
    found = Counter(row.status for row in rows)
    return {status: found[status] for status in STATUSES if found[status]}


def many_text(rows: Sequence[ResultRow], width: int, notes: Sequence[str] = ()) -> str:
    """Return counts and the table; `notes` follow it."""
    told = ", ".join(f"{number} {status.replace('_', ' ')}" for status, number in counts(rows).items())
    over = sum(row.taken_over for row in rows)
    head = f"{counted(len(rows), 'result')}{': ' if rows else ''}{told}"
    head += f"; {over} of them taken over from an earlier run." if over else "."
    parts = [paragraph(head, width)]
    if rows:
        parts.append(_table(rows, width))
    return "\n\n".join([*parts, *(paragraph(note, width) for note in notes)]) + "\n"


def many_csv(rows: Iterable[ResultRow]) -> str:
    """Write the table as CSV: shares in percent."""
    columns: Columns = {**dict.fromkeys(COLUMNS, str), "gap": exact_percent}
    return csv_text(columns, ({name: getattr(row, name) for name in COLUMNS} for row in rows))


def _table(rows: Sequence[ResultRow], width: int) -> str:
    columns = [Column("Study", wraps=True), Column("Sample"), Column("Status")]
    cells = [[row.study for row in rows], [row.sample or "" for row in rows], [_word(row.status) for row in rows]]
    if not any(cells[1]):
        del columns[1], cells[1]
    for heading, numbers in (
        ("Deviation", ["" if row.value is None else f"{row.value:.6g}" for row in rows]),
        ("Closer at most", ["" if row.gap is None else percent(row.gap, 2) for row in rows]),
        ("Cost per kg", ["" if row.cost_per_kg is None else f"{row.cost_per_kg:.2f}" for row in rows]),
        ("Lines", [str(row.lines or "") for row in rows]),
    ):
        columns.append(Column(heading, right=True))
        cells.append(on_the_point(numbers))
    return aligned(columns, list(zip(*cells, strict=True)), width, [row.error for row in rows])


def _word(status: str) -> str:
    return status.replace("_", " ")


def _sentence(finding: dict[str, Any]) -> str:
    """Return a finding as it is said elsewhere: file, row, column, what is wrong."""
    from reaccord.findings import Finding, Place

    place = Place(finding["file"] or "", finding["row"], finding["column"])
    first, *others = (line.strip() for line in finding["message"].splitlines() or [""])
    message = f"{first} {'; '.join(others)}" if others else first
    return str(Finding("error", finding["code"], message, place))
