"""Tables as CSV; a formula reads back as the formula it was."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from reaccord.report.quantities import exact_percent, six_figures

Columns = Mapping[str, Callable[[Any], str]]
"""How the cells of each column are written."""


def csv_text(columns: Columns, rows: Iterable[Mapping[str, Any]]) -> str:
    """Write a table: a cell that is None stays blank, what a row holds beside the columns is left out."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow(["" if row[name] is None else write(row[name]) for name, write in columns.items()])
    return stream.getvalue()


def strength_cell(strength: float) -> str:
    """Write a strength; that of a neat material is left blank."""
    return "" if strength == 1 else exact_percent(strength)


FORMULA: Columns = {
    "material": str,
    "strength": strength_cell,
    "carrier": str,
    "lot": str,
    "grams": str,
    "share": lambda share: exact_percent(six_figures(share)),
    "cost": "{:.6g}".format,
}
RESIDUALS: Columns = {
    "constituent": str,
    "kind": str,
    **dict.fromkeys(("target", "low", "high", "achieved", "residual"), exact_percent),
    "scaled": str,
    "reason": str,
}


def formula_csv(rows: Iterable[Mapping[str, Any]]) -> str:
    """Write a formula."""
    return csv_text(FORMULA, rows)


def residual_csv(rows: Iterable[Mapping[str, Any]]) -> str:
    """Write the residuals: shares in percent, `scaled` a number."""
    return csv_text(RESIDUALS, rows)
