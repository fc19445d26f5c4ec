"""What would help: limits by what they cost, and shorter formulas, as plain data and as text."""

from __future__ import annotations

from typing import Any

from reaccord.answer.judge import Judgement
from reaccord.questions.prices import Found, LimitPrice, Prices
from reaccord.report.layout import Column, aligned, counted, paragraphs
from reaccord.report.quantities import UNITS, in_unit, percent, trimmed

MOST_ROWS = 8


def price_rows(found: Prices) -> list[dict[str, Any]]:
    """Return the limits that cost something, the dearest first."""
    return [
        {
            "limit": price.label,
            "kind": price.kind,
            "subject": list(price.subject),
            "unit": price.unit,
            "now": price.now,
            "without": vars(price.without).copy(),
            "step": None if price.step is None else {"limit": price.step.limit, **vars(price.step.found)},
            "gain": price.gain,
        }
        for price in found.limits
    ]


def shorter_rows(found: Prices) -> list[dict[str, Any]]:
    """Return the shorter formulas, by their lines."""
    return [{"lines": int(step.limit), **vars(step.found)} for step in found.shorter]


def helps(found: Prices, judged: Judgement) -> tuple[list[tuple[str, str, str]], list[str]]:
    """Return rows of what is changed, how much is wrong then and the deviation; and what is to be said of them."""
    rows = [row for price in found.limits[:MOST_ROWS] for row in _rows(price)]
    lines, notes = len(judged.lines), list[str]()
    shorter = [(f"{counted(int(step.limit), 'line')} instead of {lines}", *_off(step.found)) for step in found.shorter]
    if any(not step.found.proven for step in found.shorter):
        notes.append("Of the shorter formulas closer ones may exist: reaccord frontier STUDY --against lines.")
    if not rows:
        notes.append("No limit by itself costs closeness.")
    if len(found.limits) > MOST_ROWS:
        notes.append(f"{counted(len(found.limits) - MOST_ROWS, 'more limit')} cost less.")
    if found.unasked:
        notes.append(f"Not asked in the time given: {', '.join(found.unasked)}.")
    return rows + shorter, notes


def prices_text(found: Prices, judged: Judgement, width: int) -> str:
    """Return what would help, beside what there is."""
    rows, notes = helps(found, judged)
    now = percent(judged.closeness.misplaced_share, 1)
    wrong, deviation = f"instead of {now} wrong", f"deviation, instead of {judged.closeness.value:.4g}"
    columns = (Column("What would help", wraps=True), Column(wrong, right=True), Column(deviation, right=True))
    return "\n".join(part for part in (aligned(columns, rows, width), paragraphs(notes, width)) if part)


def _rows(price: LimitPrice) -> list[tuple[str, str, str]]:
    rows = []
    if price.step is not None:
        unit = _unit(price.unit)
        moved = (
            f"{price.label} {_number(price.step.limit, price.unit)} instead of {_number(price.now, price.unit)}{unit}"
        )
        rows.append((moved, *_off(price.step.found)))
    if price.kind not in {"batch", "dosage"}:
        rows.append((f"{price.label}: no limit", *_off(price.without)))
    elif price.step is None:
        rows.append((f"{price.label} a tenth as large", *_off(price.without)))
    return rows


def _number(value: float, unit: str) -> str:
    return trimmed(in_unit(value, unit)) if unit in {"g", "lines", "share"} else in_unit(value, unit)


def _unit(unit: str) -> str:
    return f" {UNITS[unit]}" if UNITS.get(unit) else ""


def _off(found: Found) -> tuple[str, str]:
    """Return how much is wrong, and the deviation, which is what closeness means."""
    return percent(found.misplaced_share, 1), f"{found.value:.4g}"
