"""The cheapest close formula as plain data and as text."""

from __future__ import annotations

from typing import Any

from reaccord.questions.cheapest import Cheapest, changes, spoilt
from reaccord.report.data import judgement_data, printed_row
from reaccord.report.layout import Column, aligned, counted, headed, paragraph, paragraphs
from reaccord.report.notes import notes, with_notes
from reaccord.report.quantities import decimals_of_balance
from reaccord.report.terminal import body, ended, rules
from reaccord.report.verdict import beside_fit, measured, standing

MOST_ROWS = 10
WORTH_A_ROW = 0.02
"""Of the greatest saving: a material that saves or costs less, and is in both formulas, is only counted."""
WORTH_SHOWING = 1e-4
"""Rows that moved by less than 0.01 points are not listed as text."""


def cheapest_data(found: Cheapest) -> dict[str, Any]:
    """Return `cheapest`'s data; money as in the tables, shares as fractions."""
    data = judgement_data(found.study, found.judged, found.reasons)
    data["deviation"] |= {"before_rounding": found.judged_before.closeness.value}
    closest = found.closest.judged
    return data | {
        "closest": {"value": closest.closeness.value, "cost_per_kg": closest.totals.cost_per_kg},
        "fit": printed_row(found.printed),
        "within": found.within,
        "within_after_rounding": not found.over,
        "saved_per_kg": found.saved_per_kg,
        "cost_per_kg_before_rounding": found.before,
        "bound_cost_per_kg": found.bound,
        "gap_cost": found.gap,
        "changes": [vars(change).copy() for change in changes(found)],
        "spoilt": [vars(row).copy() for row in spoilt(found)],
    }


def cheapest_text(found: Cheapest, width: int) -> str:
    """Return the answer of `cheapest` for people: the verdict, what was replaced, what it spoilt, the formula."""
    verdict = with_notes(_verdict(found), notes(found.study, found.judged))
    parts = [headed(found.study.title, verdict, width), _changes(found, width), _spoilt(found, width)]
    parts.insert(1, paragraphs([*_hardly(found), *beside_fit(found.printed, found.closest.judged)], width))
    parts += [*body(found.study, found.judged, found.reasons, width), *rules(found.study, width)]
    return ended(parts, _proof(found), width)


def _verdict(found: Cheapest) -> str:
    cost, closest = found.judged.totals.cost_per_kg, found.closest.judged
    sure = "nothing as close" if found.status == "proven" else "cheapest so far, nothing as close"
    return (
        f"{cost:.2f} per kg instead of {closest.totals.cost_per_kg:.2f}; {standing(found.judged)}, instead of "
        f"{standing(closest)}; {sure} can cost less than {found.bound:.2f}."
    )


def _changes(found: Cheapest, width: int) -> str:
    rows = changes(found)
    if not rows:
        return "It is the closest formula itself."
    worth = WORTH_A_ROW * max(abs(row.saved) for row in rows)
    slight = [row for row in rows if abs(row.saved) < worth and row.from_g > 0 and row.to_g > 0]
    rows = [row for row in rows if row not in slight]
    decimals = decimals_of_balance(found.study)
    before = [f"{row.from_g:.{decimals}f}" if row.from_g else "" for row in rows]
    after = [f"{row.to_g:.{decimals}f}" if row.to_g else "" for row in rows]
    columns = (
        Column("Instead of the closest", wraps=True),
        Column("from g", right=True),
        Column("to g", right=True),
        Column("saves", right=True),
    )
    cells = [(r.material, a, b, f"{r.saved:.3f}") for r, a, b in zip(rows, before, after, strict=True)]
    table = aligned(columns, cells, width)
    more = f"{counted(len(slight), 'more material')} moved a little. " if slight else ""
    return f"{table}\n{paragraph(more + 'Gram of neat material; what it saves is for the whole batch.', width)}"


def _spoilt(found: Cheapest, width: int) -> str:
    moved = [row for row in spoilt(found) if abs(row.residual - row.residual_before) >= WORTH_SHOWING]
    worse = [row for row in moved if abs(row.scaled) > abs(row.scaled_before)]
    if not worse:
        return ""
    columns = (Column("Spoilt, points off", wraps=True), Column("before", right=True), Column("now", right=True))
    shown = worse[:MOST_ROWS]
    cells = [(r.constituent, f"{r.residual_before * 100:+.2f}", f"{r.residual * 100:+.2f}") for r in shown]
    more = [f"{counted(len(worse) - len(shown), 'more row')} farther off."] if len(worse) > len(shown) else []
    return "\n".join([aligned(columns, cells, width), *more])


def _hardly(found: Cheapest) -> list[str]:
    """Say what makes the deviation asked for mean little, or was not reached."""
    lines = []
    if found.over:
        lines.append(f"Rounding pushed the deviation over {found.within:.6g}: no amounts on the grid were found.")
    if found.within >= found.nothing > found.closest.judged.closeness.value:
        lines.append(
            f"So much is hardly a limit: pouring nothing deviates by {found.nothing:.4g}. A percentage above the "
            'closest has its sign: --within "5 %".'
        )
    return lines


def _proof(found: Cheapest) -> str:
    value, closest = found.judged.closeness.value, found.closest.judged.closeness.value
    return (
        f"{measured(found.study)} {value:.4g} of at most {found.within:.4g}, the closest has {closest:.4g}; before "
        f"rounding it costs {found.before:.2f} per kg. reaccord help closeness"
    )
