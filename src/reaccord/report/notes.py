"""What a person must know of a formula though every limit holds: how little of it is known, how little it is worth."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from reaccord.answer.judge import Judgement, empty_vial, measured
from reaccord.domain.study import Study
from reaccord.report.quantities import percent
from reaccord.report.verdict import unnamed

if TYPE_CHECKING:
    from reaccord.answer.fitted import Fit

LITTLE_KNOWN = 0.25
"""Of the concentrate: more that nobody declares is said first."""
MUCH_POURED = 3.0
"""Times the accord: more poured mass is said first."""
SECONDS = 2.0
"""For what stands in the way: the answer it belongs to is there already."""
WORTH_NAMING = 0.1
"""Of what is poured beside the accord: what makes less of it is not named."""


@dataclass(frozen=True)
class Note:
    """One such fact: its code, and the sentence that says it."""

    code: str
    sentence: str


def notes(study: Study, judged: Judgement) -> list[Note]:
    """Return what stands behind the verdict on a formula; nothing where there is nothing to say."""
    found = []
    if _without_undeclared(study, judged) > empty_vial(study):
        found.append(Note("empty-vial", "It is farther from the target than an empty vial."))
    share = unnamed(judged)
    if share > LITTLE_KNOWN:
        text = f"{percent(share, 0)} of it is what nobody declares: what that smells of is not known."
        found.append(Note("little-declared", text))
    totals = judged.totals
    if totals.total_g > MUCH_POURED * totals.accord_g:
        text = f"{totals.total_g:.4g} g are poured for {totals.accord_g:.4g} g of accord: {_beside(study, judged)}."
        found.append(Note("much-poured", text))
    if study.rules and any(line.carries for line in study.tables.constituents):
        from reaccord.safety.dosage import not_analysed

        if pairs := not_analysed(study, judged):
            text = "; ".join(f"{name} in {material}" for name, material in pairs)
            found.append(Note("not-analysed", f"Not analysed, so counted as none under the limits: {text}."))
    return found


def notes_on(fit: Fit) -> list[Note]:
    """Return the notes on an answer; where its cost is limited, from which ceiling on one beats an empty vial."""
    return [
        Note(note.code, note.sentence + _ceiling(fit)) if note.code == "empty-vial" else note
        for note in notes(fit.study, fit.judged)
    ]


def note_rows(found: Iterable[Note]) -> list[dict[str, str]]:
    """Return notes as plain data."""
    return [asdict(note) for note in found]


def with_notes(verdict: str, found: Iterable[Note]) -> str:
    """Return a verdict with its notes behind it."""
    return " ".join([verdict, *(note.sentence for note in found)])


def _without_undeclared(study: Study, judged: Judgement) -> float:
    """Return the deviation of what is known of a formula: what nobody declares is neither right nor wrong."""
    return measured(study, [row.scaled for row in judged.residuals if row.kind != "undeclared"])


def _beside(study: Study, judged: Judgement) -> str:
    """Say what is poured beside the accord, the most first."""
    totals = judged.totals
    diluting = math.fsum(line.grams * (1 - line.stock.key.strength) for line in judged.lines)
    parts = {
        "carrier of dilutions" if 2 * diluting >= totals.carrier_g else "carrier": totals.carrier_g,
        "what nobody declares": totals.undeclared_g,
        "foreign to the target": 0.0 if study.target.rest == "open" else totals.foreign_g,
    }
    least = WORTH_NAMING * (totals.total_g - totals.accord_g)
    named = sorted(((grams, name) for name, grams in parts.items() if grams >= least), reverse=True)
    return ", ".join(f"{grams:.4g} g is {name}" for grams, name in named)


def _ceiling(fit: Fit) -> str:
    """Return what stands in the way of a formula nearer than nothing, or from which cost on there is one."""
    if fit.ended or fit.programme is None:
        return ""
    from reaccord.answer.why.farther import in_the_way
    from reaccord.contract import Budget
    from reaccord.questions.nearer import least_ceiling  # brings numpy, which `compare` does without

    costs = fit.study.settings.limits.cost_per_kg is not None
    least = least_ceiling(fit) if costs else math.inf
    if least is not None and math.isfinite(least):
        return f" Nearer ones begin at {math.ceil(least * 100) / 100:.2f} per kg of accord."
    together = in_the_way(fit.programme, empty_vial(fit.study), Budget(seconds=SECONDS).running())
    if together is None:
        return " `reaccord frontier` shows what each cost per kg allows." if costs else ""
    if together:
        without = "any one of these" if len(together) > 1 else "it"
        return f" In the way: {'; '.join(together)}. Without {without} there are nearer ones."
    return " No formula from these bottles is nearer."
