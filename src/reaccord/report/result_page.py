"""A result as one page that stands by itself: nothing is loaded, and it prints.

Sections that take a search of their own, or the bench's, are there where they were asked for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from reaccord import __version__
from reaccord.answer.judge import Judgement
from reaccord.answer.why.reason import Reason, sentence
from reaccord.balance.weighing_order import weighing_order
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.settings import Measure
from reaccord.domain.study import Study
from reaccord.report.curve_picture import HEIGHT, LEFT, curve
from reaccord.report.curve_picture import WIDTH as CURVE_WIDTH
from reaccord.report.data import cautions
from reaccord.report.layout import counted
from reaccord.report.off_picture import WIDTH, Scale
from reaccord.report.off_target import COUNTS, got_cell, named_cell, others, part_of_deviation, target_cell
from reaccord.report.pages import page
from reaccord.report.quantities import UNITS, decimals_of_balance, in_unit, percent, signed
from reaccord.report.sheet_files import sheet_values
from reaccord.report.terminal import poured_name, price_text, rest_text, rules_text
from reaccord.report.verdict import deviation_text

if TYPE_CHECKING:
    from reaccord.answer.fitted import Fit
    from reaccord.balance.equal_strength import Vial
    from reaccord.balance.sheet import Sheet
    from reaccord.questions.curve import Frontier
    from reaccord.questions.spread.spread import Spread
    from reaccord.report.dosage import Safety

MOST_SOURCES = 4
UNFOLDED = 15
"""Rows that are shown whatever they count for."""


@dataclass(frozen=True)
class Sections:
    """What was worked out beside the answer, each None where it was not asked for."""

    curve: Frontier | None = None
    spread: Spread | None = None
    sheet: tuple[Sheet, Sequence[Vial]] | None = None
    safety: Safety | None = None


@dataclass(frozen=True)
class Shown:
    """A formula as it is shown: its judgement, the verdict, and how sure that is in a word.

    `figures` are what the verdict rests on, `shorter` says what the closest of all would need where it is not poured.
    """

    study: Study
    judged: Judgement
    verdict: str
    certainty: str
    reasons: Mapping[str, Reason]
    holding: Mapping[LimitKey, bool] = field(default_factory=dict)
    figures: str = ""
    shorter: tuple[str, ...] = ()


def figures_of(found: Fit) -> str:
    """Return deviation, bound and what rounding did, without the hint at help that a terminal shows."""
    return deviation_text(found).removesuffix(" reaccord help closeness")


def result_page(found: Shown, sections: Sections) -> str:
    """Return the page."""
    study, judged = found.study, found.judged
    return page(
        "report.html",
        title=study.title or "Untitled study",
        date=study.date.isoformat(),
        verdict=found.verdict,
        certainty=found.certainty,
        asked=asked(study),
        pour=pour_rows(study, judged),
        pour_total=pour_total(judged, decimals_of_balance(study)),
        off=(off := off_rows(found)),
        folded=folded_text(off, study.settings.fit.measure),
        scale=Scale(judged.residuals),
        scale_width=WIDTH,
        limits=limit_cells(found),
        rest=[*rest_text(study, judged), *found.shorter],
        curve=None if sections.curve is None else curve(sections.curve),
        curve_size=(CURVE_WIDTH, HEIGHT, LEFT),
        spread=None if sections.spread is None else spread_cells(sections.spread),
        sheet=None if sections.sheet is None else sheet_values(*sections.sheet),
        safety=None if sections.safety is None else safety_cells(sections.safety),
        inputs=[(item.file, item.sha256) for item in study.inputs],
        version=__version__,
        figures=found.figures,
        rules=rules_text(study),
        cautions=cautions(study),
    )


def asked(study: Study) -> list[tuple[str, str]]:
    """Return what was asked: of which target, from how many bottles, within which limits."""
    limits, target = study.settings.limits, study.target
    rows = [("Target", ", ".join(target.samples) or "the ranges of the table")]
    rows.append(("Unaccounted for in the original", percent(target.unaccounted, 2)))
    rows.append(("Batch", f"{study.settings.batch.accord_g:g} g of accord"))
    rows.append(("Shelf", counted(sum(stock.recipe is None for stock in study.stocks), "bottle")))
    if limits.cost_per_kg is not None:
        rows.append(("Cost at most", f"{limits.cost_per_kg:.2f} per kg of accord"))
    if limits.lines is not None:
        rows.append(("Lines at most", str(limits.lines)))
    if limits.product and limits.dosage is not None:
        rows.append(("For", f"{limits.product}, {percent(limits.dosage, 2)} of accord in it"))
    return rows


def pour_total(judged: Judgement, decimals: int) -> dict[str, str]:
    """Return what stands under the lines: how many, what of them is to be made, their grams and price."""
    made = sum(line.stock.recipe is not None for line in judged.lines)
    first = f", {counted(made, 'dilution')} to make" if made else ""
    return {
        "lines": f"{counted(len(judged.lines), 'line')}{first}",
        "grams": f"{judged.totals.total_g:.{decimals}f}",
        "price": price_text(judged),
    }


def pour_rows(study: Study, judged: Judgement) -> list[dict[str, str]]:
    """Return what to pour, a row a line; of a bottle that is past its date and used all the same this is said."""
    decimals = decimals_of_balance(study)
    places = {line.stock.key: place for place, line in enumerate(weighing_order(judged.lines))}
    said = {finding.place for finding in study.warnings if finding.code == "overdue"}
    overdue = {bottle.key for bottle in study.settled.bottles if bottle.line.at.at("opened") in said}
    return [
        {
            "material": poured_name(line) + (", past its date" if line.stock.key in overdue else ""),
            "grams": f"{line.grams:.{decimals}f}",
            "thousand": f"{line.share * 1000:.1f}",
            "cost": "?" if line.cost is None else f"{line.cost:.3f}",
            "lot": "to be made" if line.stock.recipe else line.stock.key.lot,
            "order": str(places[line.stock.key]),
        }
        for line in judged.lines
    ]


def off_rows(found: Shown) -> list[dict[str, Any]]:
    """Return every row of the target and every stranger, what counts most first."""
    judged = found.judged
    parts = part_of_deviation(judged.residuals, found.study.settings.fit.measure)
    scale = Scale(judged.residuals)
    ranked = sorted(judged.residuals, key=lambda r: (-parts[r.row.label], -r.achieved, r.row.label))
    rows = [r for r in ranked if r.achieved > 0 or r.kind == "named"]
    little = _little([parts[r.row.label] for r in rows])
    return [
        {
            "little": rank >= little,
            "name": named_cell(r),
            "target": target_cell(r),
            "got": got_cell(r),
            "points": signed(r.residual * 100, 2),
            "part": f"{parts[r.row.label] * 100:.1f}",
            "share": f"{r.row.share if r.kind == 'named' else r.achieved:.9f}",
            "drawn": scale.drawn(r),
            "why": sentence(found.reasons, r.row.label),
            "sources": ", ".join(f"{name} {part * 100:.0f} %" for name, part in r.sources[:MOST_SOURCES])
            + (f", {len(r.sources) - MOST_SOURCES} more" if len(r.sources) > MOST_SOURCES else ""),
        }
        for rank, r in enumerate(rows)
    ]


def _little(parts: Sequence[float]) -> int:
    """Return the first of the rows at the end that together count for next to nothing."""
    left = 1 - sum(parts[:UNFOLDED])
    for rank, part in enumerate(parts[UNFOLDED:], UNFOLDED):
        if left < COUNTS:
            return rank
        left -= part
    return len(parts)


def folded_text(rows: Sequence[Mapping[str, Any]], measure: Measure) -> str:
    """Say what the rows count for that are folded away."""
    return others(sum(row["little"] for row in rows), 0.0, measure)


def limit_cells(found: Shown) -> list[dict[str, str]]:
    """Return the limits, those that hold it back first."""
    states = sorted(found.judged.limits, key=lambda s: (s.held, not s.binding, not found.holding.get(s.key)))
    return [
        {
            "label": s.label,
            "value": in_unit(s.value, s.unit),
            "limit": in_unit(s.limit, s.unit),
            "unit": UNITS[s.unit],
            "says": "broken"
            if not s.held
            else ""
            if not s.binding
            else "holds it back"
            if found.holding.get(s.key)
            else "at its limit",
        }
        for s in states
    ]


def spread_cells(spread: Spread) -> list[dict[str, str]]:
    """Return how far each row moves with natural variation, widest first."""
    low, middle, high = spread.outcome.residuals
    rows = sorted(enumerate(spread.study.target.rows), key=lambda item: float(low[item[0]] - high[item[0]]))
    return [
        {"name": row.label, "low": _points(low[n]), "middle": _points(middle[n]), "high": _points(high[n])}
        for n, row in rows
        if float(high[n] - low[n]) > 0
    ]


def safety_cells(safety: Safety) -> dict[str, Any]:
    """Return highest dosages, totals and what a label names."""
    from reaccord.report.dosage import declared_cells, product_cells, total_cells

    return {"products": product_cells(safety), "totals": total_cells(safety), "declared": declared_cells(safety)}


def _points(share: float) -> str:
    return signed(float(share) * 100, 2)
