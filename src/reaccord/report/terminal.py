"""Results as aligned text. First the verdict, then what to pour, then what is off and why."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from reaccord.answer.judge import Judgement, PouredLine
from reaccord.answer.limits_held import LimitState
from reaccord.answer.why.reason import Reason
from reaccord.domain.limit_key import LimitKey
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
from reaccord.report.notes import Note, notes_on, with_notes
from reaccord.report.off_target import off_text
from reaccord.report.quantities import NO_BALANCE, UNITS, decimals_of, in_unit, percent, told_apart
from reaccord.report.verdict import deviation_text, shorter_text, unnamed, verdict_text

if TYPE_CHECKING:
    from reaccord.answer.fitted import Fit


def fit_text(fit: Fit, width: int, noted: Sequence[Note] | None = None, helps: str = "") -> str:
    """Return the answer of `fit` for people; `noted` are the notes on it, `helps` what would help, where at hand."""
    study = fit.study
    verdict = with_notes(verdict_text(fit), notes_on(fit) if noted is None else noted)
    pour, off, *others = body(study, fit.judged, fit.reasons, width, holding=fit.holding)
    helps = helps or paragraph("What would help: reaccord fit STUDY --prices", width)
    parts = [headed(study.title, verdict, width), pour, off, helps, *others, paragraphs(shorter_text(fit), width)]
    return ended([*parts, *rules(study, width)], deviation_text(fit), width)


def ended(parts: Sequence[str], last: str, width: int) -> str:
    """Return a screen: its parts with blank lines between them, at the end the figures behind it."""
    return "\n\n".join(filter(None, (*parts, paragraph(last, width)))) + "\n"


def body(
    study: Study,
    judged: Judgement,
    reasons: Mapping[str, Reason],
    width: int,
    as_given: bool = False,
    holding: Mapping[LimitKey, bool] | None = None,
) -> list[str]:
    """Return what to pour, what is off and why, where the limits stand, and what the target leaves open.

    `holding` says of limits whether a closer formula lies beyond them; of the others nobody knows.
    """
    return [
        _pour(judged, width, as_given),
        off_text(judged, reasons, study.settings.fit.measure, width),
        _limits(judged.limits, width, holding or {}),
        paragraphs(rest_text(study, judged), width),
    ]


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
            poured_name(line),
            f"{line.grams:.{decimals}f}",
            f"{line.share * 1000:.1f}",
            "?" if line.cost is None else f"{line.cost:.3f}",
            "to be made" if line.stock.recipe else line.stock.key.lot,
        )
        for line in judged.lines
    ]
    totals = judged.totals
    cost = "?" if totals.cost is None else f"{totals.cost:.3f}"
    rows.append((_count(judged), f"{totals.total_g:.{decimals}f}", "1000.0", cost, ""))
    below = [price_text(judged)]
    carriers = {line.stock.key.carrier for line in judged.lines if line.stock.key.strength < 1}
    if natural_width(columns, rows) > width and len(carriers) == 1:  # said once below, so that a line is one line
        brief = [poured_name(line, brief=True) for line in judged.lines]
        rows = [(name, *row[1:]) for name, row in zip(brief, rows[:-1], strict=True)] + rows[-1:]
        below.insert(0, f"The dilutions are in {carriers.pop()}.")
    return f"{aligned(columns, rows, width)}\n{paragraphs(below, width)}"


def _count(judged: Judgement) -> str:
    to_make = sum(line.stock.recipe is not None for line in judged.lines)
    lines = counted(len(judged.lines), "line")
    return f"{lines}, {counted(to_make, 'dilution')} to make: reaccord weigh" if to_make else lines


def price_text(judged: Judgement) -> str:
    """Say what the accord costs."""
    totals = judged.totals
    if totals.cost_per_kg is None:
        return "No line has a price."
    whole = totals.cost_per_kg_concentrate
    price = f"Cost {totals.cost_per_kg:.2f} per kg of accord, {whole:.2f} per kg of all that is no carrier"
    if totals.unpriced_lines:
        price += f", {counted(totals.unpriced_lines, 'line')} without a price not counted"
    return f"{price}."


def poured_name(line: PouredLine, *, brief: bool = False) -> str:
    """Return what is poured, without its lot; `brief`: without its carrier."""
    key = line.stock.key
    if key.strength == 1:
        return key.material
    return f"{key.material}, {key.strength * 100:.6g} %" + ("" if brief else f" in {key.carrier}")


def _decimals(judged: Judgement) -> int:
    """Return the decimals that the finest step poured needs, so that the column lines up."""
    steps = [line.stock.step_g for line in judged.lines]
    if not all(steps):
        return NO_BALANCE
    return max(map(decimals_of, steps))


def _given(judged: Judgement) -> int:
    """Return the decimals of the grams as a person wrote them: what is judged is what is shown."""
    return max(decimals_of(line.grams) for line in judged.lines)


def _limits(states: Iterable[LimitState], width: int, holding: Mapping[LimitKey, bool]) -> str:
    found = list(states)
    if not found:
        return "No limits are set."
    found.sort(key=lambda s: (s.held, not s.binding, not holding.get(s.key)))
    columns = (
        Column("Limit", wraps=True),
        Column("stands at", right=True),
        Column("limit", right=True),
        Column(""),
        Column(""),
    )
    shown = [(in_unit(s.value, s.unit), in_unit(s.limit, s.unit)) if s.held else _broken(s) for s in found]
    values, limits = (on_the_point(column) for column in zip(*shown, strict=True))
    words = [_standing(s, holding) for s in found]
    labels, units = [s.label for s in found], [UNITS[s.unit] for s in found]
    return aligned(columns, list(zip(labels, values, limits, units, words, strict=True)), width)


def _standing(state: LimitState, holding: Mapping[LimitKey, bool]) -> str:
    """Say where a formula stands at a limit; that it holds back only where letting go is known to make it closer."""
    if not state.held:
        return "BROKEN"
    if not state.binding:
        return ""
    return "holds it back" if holding.get(state.key) else "at its limit"


def _broken(state: LimitState) -> tuple[str, str]:
    """Return value and limit in as many digits as tell the two apart."""
    return told_apart(state.value, state.limit, state.unit), told_apart(state.limit, state.value, state.unit)


def rest_text(study: Study, judged: Judgement) -> list[str]:
    """Say what nobody has named, in the batch and in the original."""
    t = judged.totals
    target = study.target
    summed = (
        f"Target {', '.join(target.samples)}: published sum {percent(target.published_sum, 2)}, "
        f"{percent(target.unaccounted, 2)} of the original unaccounted for."
    )
    return [
        f"Not named: {percent(unnamed(judged), 1)} of this batch is what nobody declared, "
        f"{percent(t.foreign_g / (t.total_g - t.carrier_g), 1)} is foreign.",
        summed if target.samples else "Target: the ranges of the table.",
    ]


def rules(study: Study, width: int) -> list[str]:
    """Return whose rules these are, and the cautions."""
    return [paragraphs([*rules_text(study), *cautions(study)], width)] if study.rules else []


def rules_text(study: Study) -> list[str]:
    """Say whose rules these are, for what product at which dosage."""
    if not study.rules:
        return []
    who = sorted({_source(rule) for rule in study.rules})
    product = study.settings.limits.product or "any product"
    dosage = (study.settings.limits.dosage or 0.0) * 100
    return [f"Rules for {product} at {dosage:g} %: {'; '.join(who)}."]


def _source(rule: Rule) -> str:
    edition = f"edition {rule.edition}" if rule.edition.isdigit() else rule.edition
    return ", ".join(part for part in (rule.authority, edition, rule.date) if part) or "nobody named"
