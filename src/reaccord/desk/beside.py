"""Two formulas side by side: what is poured in each, and the rows in which they differ."""

from __future__ import annotations

from typing import Any

from reaccord.answer.judge import Judgement
from reaccord.report.quantities import row_percent, signed

MOST_ROWS = 30
SEEN = 5e-5
"""A share that differs by less looks the same."""


def beside_cells(one: Judgement, other: Judgement, decimals: int) -> dict[str, Any]:
    """Return lines by name, those that differ first, and the rows that differ most."""
    return {"lines": _lines(one, other, decimals), "rows": _rows(one, other)}


def _lines(one: Judgement, other: Judgement, decimals: int) -> list[dict[str, Any]]:
    poured = [{line.stock.label: line.grams for line in judged.lines} for judged in (one, other)]
    names = sorted({*poured[0], *poured[1]}, key=lambda name: -max(each.get(name, 0.0) for each in poured))
    return [
        {
            "name": name,
            "grams": [f"{each[name]:.{decimals}f}" if name in each else "" for each in poured],
            "only": sum(name in each for each in poured) == 1,
        }
        for name in names
    ]


def _rows(one: Judgement, other: Judgement) -> list[dict[str, Any]]:
    found = [{r.row.label: r for r in judged.residuals} for judged in (one, other)]
    differing = []
    for name in {**found[0], **found[1]}:
        pair = [each.get(name) for each in found]
        got = [0.0 if r is None else r.achieved for r in pair]
        wanted = next(r.row.share if r.kind == "named" else 0.0 for r in pair if r is not None)
        if abs(got[0] - got[1]) >= SEEN:
            differing.append((abs(got[0] - got[1]), name, wanted, got))
    differing.sort(key=lambda each: (-each[0], each[1]))
    return [
        {
            "name": name,
            "wanted": row_percent(wanted) if wanted else "",
            "got": [row_percent(share) for share in got],
            "moved": signed((got[1] - got[0]) * 100, 2),
        }
        for _, name, wanted, got in differing[:MOST_ROWS]
    ]
