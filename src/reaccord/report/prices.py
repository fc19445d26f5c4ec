"""What would help: limits by what they cost, shorter formulas, a bottle to buy, as plain data and as text."""

from __future__ import annotations

from typing import Any

from reaccord.answer.judge import Judgement
from reaccord.questions.prices.nearby import Found
from reaccord.questions.prices.price import LimitPrice
from reaccord.questions.prices.run import Prices
from reaccord.report.layout import Column, aligned, counted, paragraphs
from reaccord.report.quantities import UNITS, in_unit, percent, trimmed

MOST_ROWS = 8


def prices_data(found: Prices) -> dict[str, Any]:
    """Return the limits that cost something, the dearest first; shorter formulas; what is not on the shelf."""
    missing = found.missing
    return {
        "prices": [
            {
                "limit": price.label,
                "kind": price.kind,
                "subject": list(price.subject),
                "unit": price.unit,
                "now": price.now,
                "end": price.end,
                "without": vars(price.without).copy(),
                "step": None if price.step is None else {"limit": price.step.limit, **vars(price.step.found)},
                "gain": price.gain,
            }
            for price in found.limits
        ],
        "shorter": [{"lines": int(step.limit), **vars(step.found)} for step in found.shorter],
        "missing": missing and {**vars(missing), "found": vars(missing.found).copy()},
        "unasked": list(found.unasked),
    }


def helps(found: Prices, judged: Judgement) -> tuple[list[tuple[str, str, str]], list[str]]:
    """Return rows of what is changed, how much is wrong then and the deviation; and what is to be said of them."""
    rows = [row for price in found.limits[:MOST_ROWS] for row in _rows(price)]
    lines, more = len(judged.lines), list[tuple[str, str, str]]()
    if found.missing is not None:
        grams = f"{found.missing.grams:.3g} g {found.missing.constituent} (not on the shelf)"
        more.append((grams, *_off(found.missing.found)))
    for step in found.shorter:
        more.append((f"{counted(int(step.limit), 'line')} instead of {lines}", *_off(step.found)))
    return rows + more, _notes(found, judged)


def _notes(found: Prices, judged: Judgement) -> list[str]:
    notes, closer = list[str](), [step.found for price in found.limits if (step := price.step)]
    closer += [price.without for price in found.limits]
    if any(one.misplaced_share > judged.closeness.misplaced_share for one in closer):
        notes.append("Closer is by the deviation; what is wrong may be more while it falls.")
    if any(not step.found.proven for step in found.shorter):
        notes.append("Of the shorter formulas closer ones may exist: reaccord frontier STUDY --against lines.")
    if found.missing is not None:
        notes.append("What is not on the shelf is taken as pure and free: reaccord sourcing STUDY asks of each.")
    if not found.limits:
        notes.append("No limit by itself costs closeness.")
    if len(found.limits) > MOST_ROWS:
        notes.append(f"{counted(len(found.limits) - MOST_ROWS, 'more limit')} cost less.")
    if found.little:
        notes.append(f"Without it closer, but by too little to show: {', '.join(found.little)}.")
    if found.unasked:
        notes.append(f"Not asked in the time given: {', '.join(found.unasked)}.")
    return notes


def prices_text(found: Prices, judged: Judgement, width: int) -> str:
    """Return what would help, beside what there is."""
    rows, notes = helps(found, judged)
    now = percent(judged.closeness.misplaced_share, 1)
    wrong, deviation = f"instead of {now} wrong", f"deviation, instead of {judged.closeness.value:.4g}"
    columns = (Column("What would help", wraps=True), Column(wrong, right=True), Column(deviation, right=True))
    return "\n".join(part for part in (aligned(columns, rows, width), paragraphs(notes, width)) if part)


def _rows(price: LimitPrice) -> list[tuple[str, str, str]]:
    if price.kind == "balance":
        assert price.end is not None
        return [(f"a balance ten times as fine, to {trimmed(f'{price.end:.9f}')} g", *_off(price.without))]
    rows = []
    if price.step is not None:
        rows.append((_moved(price, price.step.limit), *_off(price.step.found)))
    if price.end is None:
        rows.append((f"{price.label}: no limit", *_off(price.without)))
    elif price.step is None:
        rows.append((_moved(price, price.end), *_off(price.without)))
    return rows


def _moved(price: LimitPrice, limit: float) -> str:
    shown = _number(limit, price.unit), _number(price.now, price.unit)
    return f"{price.label} {' instead of '.join(shown)}{_unit(price.unit)}"


def _number(value: float, unit: str) -> str:
    """Write a limit in all its figures: it is to be written into a study as it stands there."""
    shown, whole = in_unit(value, unit), f"{value * (100 if unit == 'share' else 1):.9g}"
    if float(shown) != float(whole):
        return whole
    return trimmed(shown) if unit in {"g", "lines", "share"} else shown


def _unit(unit: str) -> str:
    return f" {UNITS[unit]}" if UNITS.get(unit) else ""


def _off(found: Found) -> tuple[str, str]:
    """Return how much is wrong, and the deviation, which is what closeness means."""
    return percent(found.misplaced_share, 1), f"{found.value:.4g}"
