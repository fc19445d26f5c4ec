"""Tables as CSV; a formula reads back as the formula it was."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from typing import Any


def percent(share: float | None) -> str:
    """Write a share as percent with its sign, every digit that tells it from its neighbours."""
    return "" if share is None else f"{float(f'{share * 100:.15g}')!r} %".replace(".0 %", " %")


def formula_csv(rows: Iterable[Mapping[str, Any]]) -> str:
    """Write a formula: material, strength, carrier, lot, grams, share, cost."""
    return _write(
        ("material", "strength", "carrier", "lot", "grams", "share", "cost"),
        (
            {
                **row,
                "strength": "" if row["strength"] == 1 else percent(row["strength"]),
                "grams": repr(row["grams"]),
                "share": percent(float(f"{row['share']:.6g}")),
                "cost": "" if row["cost"] is None else f"{row['cost']:.6g}",
            }
            for row in rows
        ),
    )


def residual_csv(rows: Iterable[Mapping[str, Any]]) -> str:
    """Write the residuals: shares in percent, `scaled` a number."""
    shares = ("target", "low", "high", "achieved", "residual")
    return _write(
        ("constituent", "kind", *shares, "scaled", "reason"),
        (
            {
                **row,
                **{name: percent(row[name]) for name in shares},
                "scaled": repr(row["scaled"]),
                "reason": row["reason"] or "",
            }
            for row in rows
        ),
    )


def finding_csv(rows: Iterable[Mapping[str, Any]]) -> str:
    """Write findings: severity, code, file, row, column, message."""
    return _write(("severity", "code", "file", "row", "column", "message"), rows)


def topics_csv(lines: Mapping[str, str]) -> str:
    """Write the topics of the manual: topic, about."""
    return _write(("topic", "about"), [{"topic": topic, "about": line} for topic, line in lines.items()])


def verdict_csv(data: Mapping[str, Any]) -> str:
    """Write what a certificate proves, in one line: value, bound and gap (percent), and how it was proven."""
    columns = ("title", "value", "bound", "gap", "excess", "leaves", "branchings", "study")
    return _write(columns, [{**data, "gap": percent(data["gap"])}])


def _write(columns: tuple[str, ...], rows: Iterable[Mapping[str, Any]]) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({name: _guarded(row[name]) for name in columns})
    return text.getvalue()


def _guarded(cell: Any) -> Any:
    return "" if cell is None else cell
