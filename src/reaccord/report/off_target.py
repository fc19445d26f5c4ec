"""What is off, in the order of what it counts for: its part of the deviation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from reaccord.answer.judge import Judgement, Residual
from reaccord.answer.why.reason import Reason, sentence
from reaccord.domain.settings import Measure
from reaccord.report.layout import Column, aligned, counted, natural_width, on_the_point, paragraphs
from reaccord.report.quantities import row_figures, signed

COUNTS = 0.02
"""Rows that make up this part of the deviation are shown,"""
FEWEST, MOST_ROWS = 3, 12
"""and so many at least, and at most;"""
NOISE = 1e-9
"""but nothing of a deviation that is none, nor what is alike in the digits shown."""
BAR = 10
BESIDE = {"foreign": " (not wanted)", "undeclared": " (no part of wrong)"}
HEADING, WHY = "What counts most", Column("why", wraps=True)
ROOM, HIGHER = 20, 1.5
"""Reasons stand beside the rows where so many columns are left and the table becomes no more than so much higher."""


def off_text(judged: Judgement, reasons: Mapping[str, Reason], measure: Measure, width: int) -> str:
    """Return the rows that count, the others in a line, and why: beside each where there is room, else below."""
    parts = part_of_deviation(judged.residuals, measure)
    shown = _shown(judged.residuals, parts)
    if not shown:
        return f"Each of the {counted(len(parts), 'row')} is within 0.01 points."
    columns = [Column(HEADING, wraps=True), *(Column(name, right=True) for name in ("target %", "got %", "points"))]
    columns.append(Column(""))
    most = parts[shown[0].row.label]
    columns_of = (on_the_point(list(cells)) for cells in zip(*map(numbers, shown), strict=True))
    bars = ["━" * max(1, round(BAR * parts[r.row.label] / most)) for r in shown]
    rows = list(zip(map(named_cell, shown), *columns_of, bars, strict=True))
    why = [sentence(reasons, r.row.label) for r in shown]
    table = aligned(columns, rows, width)
    beside = aligned([*columns, WHY], [(*row, reason) for row, reason in zip(rows, why, strict=True)], width)
    below = ""
    if width - natural_width(columns, rows) >= ROOM and beside.count("\n") <= HIGHER * table.count("\n"):
        table = beside
    else:
        below = "\n\n" + paragraphs(_grouped([r.row.label for r in shown], why), width, "  ")
    rest = others(len(parts) - len(shown), 1 - sum(parts[r.row.label] for r in shown), measure)
    return (f"{table}\n{rest}" if rest else table) + below.rstrip()


def part_of_deviation(residuals: Sequence[Residual], measure: Measure) -> dict[str, float]:
    """Return the part of the deviation that each row makes; of the worst row's, how it stands beside all others."""
    made = {r.row.label: r.scaled**2 if measure == "squares" else abs(r.scaled) for r in residuals}
    total = sum(made.values())
    return {label: value / total if total > NOISE else 0.0 for label, value in made.items()}


def _shown(residuals: Sequence[Residual], parts: Mapping[str, float]) -> list[Residual]:
    order = sorted(residuals, key=lambda r: (-parts[r.row.label], r.row.label))[:MOST_ROWS]
    worth = [r for rank, r in enumerate(order) if parts[r.row.label] >= COUNTS or rank < FEWEST]
    return [r for r in worth if parts[r.row.label] > 0 and not _alike(r)]


def _alike(r: Residual) -> bool:
    """Whether what was wanted and what was got are the same in the digits shown: then it does not look off."""
    got, wanted = (float(row_figures(share)) for share in (r.achieved, r.achieved - r.residual))
    return got == wanted


def others(number: int, part: float, measure: Measure) -> str:
    """Say what the rows that are not shown count for together."""
    if not number:
        return ""
    if measure == "worst":
        return f"{counted(number, 'more row')} no farther off than these."
    count, together = ("counts", "") if number == 1 else ("count", " together")
    much = f"{part * 100:.0f} %" if part >= COUNTS else "less than 2 %"
    return f"{counted(number, 'more row')} {count} for {much}{together}."


def _grouped(labels: Sequence[str], why: Sequence[str]) -> list[str]:
    """Return each reason once, behind the rows it is one of."""
    of: dict[str, list[str]] = {}
    for label, reason in zip(labels, why, strict=True):
        if reason:
            of.setdefault(reason, []).append(label)
    return [f"{', '.join(rows)}: {reason}" for reason, rows in of.items()]


def named_cell(r: Residual) -> str:
    """Write what a row is about; what nobody declared counts in the deviation, and so its bar, but is not wrong."""
    return r.row.label + BESIDE.get(r.kind, "")


def numbers(r: Residual) -> tuple[str, str, str]:
    """Return what was wanted and what was got in percent, and the points between."""
    return target_cell(r), got_cell(r), _points(r)


def target_cell(r: Residual) -> str:
    """Write what was wanted of it, in percent."""
    if r.row.band:
        return f"{r.row.low * 100:.2f} to {r.row.high * 100:.2f}"
    return "none" if r.kind in {"foreign", "undeclared"} else row_figures(r.row.share)


def got_cell(r: Residual) -> str:
    """Write what was got of it, in percent."""
    return row_figures(r.achieved)


def _points(r: Residual) -> str:
    return signed(r.residual * 100, 4 if 0 < abs(r.residual) < 0.00005 else 2)
