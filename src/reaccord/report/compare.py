"""Given formulas: one judged by itself, several side by side at the same batch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from reaccord.answer.formula import by_material
from reaccord.answer.judge import Judgement, judge
from reaccord.answer.why.reason import Reason
from reaccord.answer.why.reasons import reasons
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import Finding, Place
from reaccord.report.csv_table import RESIDUALS, csv_text, residual_csv
from reaccord.report.data import about, judgement_data, residual_rows
from reaccord.report.layout import GAP, Column, aligned, counted, headed, paragraph, paragraphs
from reaccord.report.notes import notes, with_notes
from reaccord.report.quantities import decimals_of_balance, in_full, in_unit, percent, signed
from reaccord.report.terminal import body, ended, rules
from reaccord.report.verdict import batch_text, broken_text, made_g, measured, standing, unnamed

MOST_ROWS = 10
WORTH_SHOWING = 1e-4
"""Rows that differ by less than 0.01 points are not listed as text."""
FIRST_COLUMN, NUMBER = 24, 7
"""Cells that names of materials and rows, and a number, want at least."""


class Compared(NamedTuple):
    """A formula of a study as it was judged; `name` is its file as it was named."""

    name: str
    study: Study
    judged: Judgement
    reasons: Mapping[str, Reason]

    @property
    def verdict(self) -> str:
        """How close it is, what it breaks, what must be known beside."""
        said = f"{standing(self.judged)}; this formula {broken_text(self.judged)}.{batch_text(self.study, self.judged)}"
        return with_notes(said, notes(self.study, self.judged))

    @property
    def to_batch(self) -> float:
        """What its grams are multiplied with to make the batch of the study."""
        return self.study.settings.batch.accord_g / made_g(self.study, self.judged)


def compared(name: str, study: Study, amounts: Mapping[StockKey, float]) -> Compared:
    """Judge a formula, gram by stock; raise `ValueError` as the judge does."""
    judged = judge(study, amounts)
    return Compared(name, study, judged, reasons(study, judged, optimised=False))


def broken_limits(found: Compared) -> list[Finding]:
    """Return a warning for each limit that does not hold: CSV has no other place for it."""
    place = Place(Path(found.name).name)
    return [
        Finding(
            "warning",
            "broken-limit",
            f"breaks {s.label}: {in_full(s.value, s.unit)}, {s.sense} {in_full(s.limit, s.unit)}.",
            place,
        )
        for s in found.judged.broken
    ]


def compare_data(found: Sequence[Compared]) -> dict[str, Any]:
    """Return `compare`'s data: that of the formula, or of several as a list, each with its `file`."""
    each = [judgement_data(one.study, one.judged, one.reasons) for one in found]
    if len(each) == 1:
        return each[0]
    inputs = [item for number, data in enumerate(each) for item in (data["inputs"][-1:] if number else data["inputs"])]
    formulas = [{"file": one.name, **data} for one, data in zip(found, each, strict=True)]
    return {**about(found[0].study), "formulas": formulas, "inputs": inputs}


def compare_csv(found: Sequence[Compared]) -> str:
    """Write the residuals; of several formulas one after the other, with the file of each."""
    rows = [{"formula": one.name, **row} for one in found for row in residual_rows(one.judged, one.reasons)]
    return residual_csv(rows) if len(found) == 1 else csv_text({"formula": str, **RESIDUALS}, rows)


def compare_text(found: Sequence[Compared], width: int) -> str:
    """Return the judgement for people."""
    if len(found) > 1:
        return _side_by_side(found, width)
    (one,) = found
    study, judged = one.study, one.judged
    parts = [headed(study.title, one.verdict, width), *body(study, judged, one.reasons, width, as_given=True)]
    return ended([*parts, *rules(study, width)], f"{measured(study)} {judged.closeness.value:.6g}.", width)


def _side_by_side(found: Sequence[Compared], width: int) -> str:
    study, called = found[0].study, names_of(found)
    names = called
    if FIRST_COLUMN + sum(len(GAP) + max(len(name), NUMBER) for name in called) > width:
        names = [f"({number})" for number in range(1, len(found) + 1)]
        called = [f"{number} {name}" for number, name in zip(names, called, strict=True)]
    broken = [
        with_notes(f"{name} {broken_text(one.judged)}.", notes(study, one.judged))
        for name, one in zip(called, found, strict=True)
    ]
    parts = [headed(study.title, verdict(found, called), width), _standing(found, names, width)]
    parts.append(paragraphs(broken, width))
    parts += [_materials(found, names, width), _residuals(found, names, width), *rules(study, width)]
    deviations = ", ".join(f"{name} {one.judged.closeness.value:.6g}" for name, one in zip(names, found, strict=True))
    return ended(parts, f"{measured(study)}: {deviations}.", width)


def verdict(found: Sequence[Compared], names: Sequence[str]) -> str:
    """Say how close a formula is and what it breaks; of several which is closest, of those that break none if any."""
    if len(found) == 1:
        return found[0].verdict
    judged = {name: one.judged for name, one in zip(names, found, strict=True)}
    holding = {name: each for name, each in judged.items() if not each.broken}
    among = holding or judged
    closest = min(among, key=lambda name: among[name].closeness.value)
    if len(holding) == len(judged):
        which = f"the closest of {len(judged)} formulas is"
    elif holding:
        which = (
            f"of {len(judged)} formulas {len(holding)} {'holds' if len(holding) == 1 else 'hold'} every limit, closest"
        )
    else:
        which = f"none of {len(judged)} formulas holds every limit; the closest is"
    return f"{which} {closest}: {standing(judged[closest])}."


def names_of(found: Sequence[Compared]) -> list[str]:
    """Return the names of the files, without folder and ending where that tells them apart; numbered if given again."""
    short, whole = [Path(one.name).stem for one in found], [one.name for one in found]
    names = short if len(set(short)) == len(set(whole)) else whole
    times = [names[: place + 1].count(name) for place, name in enumerate(names)]
    return [name if time == 1 else f"{name} ({time})" for name, time in zip(names, times, strict=True)]


def _table(heading: str, names: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> str:
    return aligned((Column(heading, wraps=True), *(Column(name, right=True) for name in names)), rows, width)


def _standing(found: Sequence[Compared], names: Sequence[str], width: int) -> str:
    judged = [one.judged for one in found]
    costs = ["?" if j.totals.cost_per_kg is None else in_unit(j.totals.cost_per_kg, "per kg") for j in judged]
    rows = [
        ("wrong", *(percent(j.closeness.misplaced_share, 1) for j in judged)),
        ("unnamed", *(percent(unnamed(j), 1) for j in judged)),
        ("cost per kg", *costs),
        ("lines", *(str(len(j.lines)) for j in judged)),
        ("limits broken", *(str(len(j.broken)) for j in judged)),
    ]
    return _table("Formula", names, rows, width)


def _materials(found: Sequence[Compared], names: Sequence[str], width: int) -> str:
    """Return gram and cost at the batch of the study, what differs most first."""
    study, decimals = found[0].study, decimals_of_balance(found[0].study)
    grams = [{m: neat * one.to_batch for m, (neat, _) in by_material(one.judged).items()} for one in found]
    each = {material: [poured.get(material, 0.0) for poured in grams] for poured in grams for material in poured}
    order = sorted(each, key=lambda material: (min(each[material]) - max(each[material]), material))
    rows = [(m, *(f"{neat:.{decimals}f}" if neat else "" for neat in each[m])) for m in order]
    costs = [(one.judged.totals.cost, one.to_batch) for one in found]
    rows.append(("cost", *("?" if cost is None else f"{cost * factor:.3f}" for cost, factor in costs)))
    note = f"Gram of neat material, and its cost, in a batch of {study.settings.batch.accord_g:g} g each."
    return f"{_table('Pour', names, rows, width)}\n{paragraph(note, width)}"


def _residuals(found: Sequence[Compared], names: Sequence[str], width: int) -> str:
    """Return how far the rows are off that differ most, by what they count for."""
    each = [{r.row.label: r for r in one.judged.residuals} for one in found]
    rows = {label: [residuals[label] for residuals in each] for label in each[0]}
    far = {label: max(r.residual for r in row) - min(r.residual for r in row) for label, row in rows.items()}
    counts = {label: max(r.scaled**2 for r in row) - min(r.scaled**2 for r in row) for label, row in rows.items()}
    listed = sorted((label for label in rows if far[label] >= WORTH_SHOWING), key=lambda label: (-counts[label], label))
    if not listed:
        return "No row of the target differs by as much as 0.01 points."
    shown = listed[:MOST_ROWS]
    cells = [(label, *(signed(r.residual * 100, 2) for r in rows[label])) for label in shown]
    table = _table("Off the target, points", names, cells, width)
    more = len(rows) - len(shown)
    less = "counts less or is" if more == 1 else "count less or are"
    return f"{table}\n{counted(more, 'more row')} {less} alike." if more else table
