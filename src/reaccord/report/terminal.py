"""Results as aligned text. First the verdict, then what to pour, then what is off and why."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from reaccord.answer.judge import Judgement, PouredLine, Residual
from reaccord.answer.limits_held import LimitState
from reaccord.domain.limits import Rule
from reaccord.domain.study import Study
from reaccord.report.data import cautions
from reaccord.report.layout import (
    Column,
    aligned,
    counted,
    headed,
    natural_width,
    on_the_point,
    paragraph,
    paragraphs,
)
from reaccord.report.quantities import NO_BALANCE, UNITS, decimals_of, in_unit, percent, row_percent, told_apart
from reaccord.report.verdict import proof_text, verdict_text

if TYPE_CHECKING:
    from reaccord.answer.fit import Fit

WORTH_SHOWING = 0.003
"""Residuals of 0.3 points and more are shown,"""
OF_THE_DEVIATION = 0.02
"""and those that make up this part of the deviation,"""
NOISE = 1e-9
"""but nothing of a deviation that is none, nor what is alike in the digits shown,"""
MOST_ROWS = 16
"""but no more than these."""
BAR = 10
ROOM_FOR_REASONS = 40
"""Where less than this is left beside the numbers, a reason stands beneath its row."""


def fit_text(fit: Fit, width: int) -> str:
    """Return the answer of `fit` for people."""
    parts = [headed(fit.study.title, verdict_text(fit), width), *body(fit.judged, fit.reasons, width)]
    parts.append(paragraphs((*rest(fit.study, fit.judged), *proof_text(fit)), width))
    return "\n\n".join([*parts, *rules(fit.study, width)]) + "\n"


def body(judged: Judgement, reasons: Mapping[str, str], width: int, as_given: bool = False) -> list[str]:
    return [_pour(judged, width, as_given), _off(judged, reasons, width), _limits(judged.limits, width)]


def _pour(judged: Judgement, width: int, as_given: bool) -> str:
    columns = (
        Column("Pour", wraps=True),
        Column("g", right=True),
        Column("‰ neat", right=True),
        Column("cost", right=True),
        Column("lot", wraps=True),
    )
    decimals = max(_decimals(judged), _given(judged) if as_given else 0)
    rows = [
        (
            _poured(line),
            f"{line.grams:.{decimals}f}",
            f"{line.share * 1000:.1f}",
            "?" if line.cost is None else f"{line.cost:.3f}",
            "to be made" if line.stock.recipe else line.stock.key.lot,
        )
        for line in judged.lines
    ]
    totals = judged.totals
    cost = "?" if totals.cost is None else f"{totals.cost:.3f}"
    rows.append((counted(len(rows), "line"), f"{totals.total_g:.{decimals}f}", "1000.0", cost, ""))
    return f"{aligned(columns, rows, width)}\n{paragraph(_price(judged), width)}"


def _price(judged: Judgement) -> str:
    totals = judged.totals
    if totals.cost_per_kg is None:
        return "No line has a price."
    whole = totals.cost_per_kg_concentrate
    price = f"Cost {totals.cost_per_kg:.2f} per kg of accord, {whole:.2f} per kg of all that is no carrier"
    if totals.unpriced_lines:
        price += f", {counted(totals.unpriced_lines, 'line')} without a price not counted"
    return f"{price}."


def _poured(line: PouredLine) -> str:
    key = line.stock.key
    return key.material if key.strength == 1 else f"{key.material}, {key.strength * 100:.6g} % in {key.carrier}"


def _decimals(judged: Judgement) -> int:
    """Return the decimals that the finest step poured needs, so that the column lines up."""
    steps = [line.stock.step_g for line in judged.lines]
    if not all(steps):
        return NO_BALANCE
    return max(map(decimals_of, steps))


def _given(judged: Judgement) -> int:
    """Return the decimals of the grams as a person wrote them: what is judged is what is shown."""
    return max(decimals_of(line.grams) for line in judged.lines)


def _off(judged: Judgement, reasons: Mapping[str, str], width: int) -> str:
    shown = _shown(judged.residuals)
    rest = [r for r in judged.residuals if r not in shown]
    if not shown:
        return f"Each of the {counted(len(rest), 'row')} is within {WORTH_SHOWING * 100:.1f} points."
    columns = [
        Column("Off the target", wraps=True),
        Column("target", right=True),
        Column("got", right=True),
        Column(""),
    ]
    most = max(WORTH_SHOWING, *(abs(r.residual) for r in shown))
    rows = [(_named(r), _target(r), row_percent(r.achieved), _bar(r.residual / most)) for r in shown]
    why = [reasons.get(r.row.label, "") for r in shown]
    if width - natural_width(columns, rows) - 2 >= ROOM_FOR_REASONS:
        beside = [(*row, reason) for row, reason in zip(rows, why, strict=True)]
        table = aligned([*columns, Column("why", wraps=True)], beside, width)
    else:
        table = aligned(columns, rows, width, beneath=why)
    return f"{table}\n{_others(rest)}" if rest else table


def _others(rest: Sequence[Residual]) -> str:
    largest = max(abs(r.residual) for r in rest) * 100
    return f"{counted(len(rest), 'more row')} within {largest:.2f} points."


def _named(r: Residual) -> str:
    return r.row.label + (" (not in the target)" if r.kind == "foreign" else "")


def _shown(residuals: Sequence[Residual]) -> list[Residual]:
    total = max(sum(r.scaled**2 for r in residuals), NOISE)
    worth = [r for r in residuals if abs(r.residual) >= WORTH_SHOWING or r.scaled**2 >= OF_THE_DEVIATION * total]
    return sorted((r for r in worth if not _alike(r)), key=lambda r: (-abs(r.scaled), r.row.label))[:MOST_ROWS]


def _alike(r: Residual) -> bool:
    """Whether what was wanted and what was got are the same in the digits shown: then it does not look off."""
    got, wanted = (float(row_percent(share).removesuffix(" %")) for share in (r.achieved, r.achieved - r.residual))
    return got == wanted


def _target(r: Residual) -> str:
    if r.row.band:
        return f"{r.row.low * 100:.2f} to {percent(r.row.high, 2)}"
    return "none" if r.kind in {"foreign", "undeclared"} else row_percent(r.row.share)


def _bar(part: float) -> str:
    length = round(abs(part) * BAR)
    if part < 0:
        return "━" * length + "┤" if length == BAR else " " * (BAR - length) + "━" * length + "┤"
    return " " * BAR + "├" + "━" * length


def _limits(states: Iterable[LimitState], width: int) -> str:
    found = list(states)
    if not found:
        return "No limits are set."
    found.sort(key=lambda s: (s.held, not s.binding))
    columns = (
        Column("Limit", wraps=True),
        Column("stands at", right=True),
        Column("limit", right=True),
        Column(""),
        Column(""),
    )
    shown = [(in_unit(s.value, s.unit), in_unit(s.limit, s.unit)) if s.held else _broken(s) for s in found]
    values, limits = (on_the_point(column) for column in zip(*shown, strict=True))
    words = ["BROKEN" if not s.held else "holds it back" if s.binding else "" for s in found]
    labels, units = [s.label for s in found], [UNITS[s.unit] for s in found]
    return aligned(columns, list(zip(labels, values, limits, units, words, strict=True)), width)


def _broken(state: LimitState) -> tuple[str, str]:
    """Return value and limit in as many digits as tell the two apart."""
    return told_apart(state.value, state.limit, state.unit), told_apart(state.limit, state.value, state.unit)


def rest(study: Study, judged: Judgement) -> list[str]:
    t = judged.totals
    active = t.total_g - t.carrier_g
    target = study.target
    summed = (
        f"Target {', '.join(target.samples)}: published sum {percent(target.published_sum, 2)}, "
        f"{percent(target.unaccounted, 2)} of the original unaccounted for."
    )
    return [
        f"Not named: {percent(t.undeclared_g / active, 1)} of this batch is what nobody declared, "
        f"{percent(t.foreign_g / active, 1)} is foreign.",
        summed if target.samples else "Target: the ranges of the table.",
    ]


def rules(study: Study, width: int) -> list[str]:
    """Return whose rules these are, and the cautions."""
    if not study.rules:
        return []
    who = sorted({_source(rule) for rule in study.rules})
    product = study.settings.limits.product or "any product"
    dosage = (study.settings.limits.dosage or 0.0) * 100
    lines = [f"Rules for {product} at {dosage:g} %: {'; '.join(who)}.", *cautions(study)]
    return [paragraphs(lines, width)]


def _source(rule: Rule) -> str:
    edition = f"edition {rule.edition}" if rule.edition.isdigit() else rule.edition
    return ", ".join(part for part in (rule.authority, edition, rule.date) if part) or "nobody named"
