"""A study or an answer as a piece of HTML that stands by itself, for a notebook: `_repr_html_` asks for it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reaccord.answer.fitted import Fit
from reaccord.answer.judge import Residual
from reaccord.domain.study import Study
from reaccord.domain.target import TargetRow
from reaccord.report.check import no_source
from reaccord.report.layout import counted
from reaccord.report.notes import notes_on, with_notes
from reaccord.report.off_picture import WIDTH, Scale
from reaccord.report.off_target import others, part_of_deviation
from reaccord.report.pages import page
from reaccord.report.quantities import decimals_of_balance, percent, row_percent
from reaccord.report.result_page import Shown, asked, limit_cells, off_rows, pour_rows, pour_total
from reaccord.report.terminal import rest_text
from reaccord.report.verdict import certainty_word, verdict_text

MOST_ROWS = 20
"""Of what is off; the data frame has all."""


def as_html(shown: Study | Fit) -> str:
    """Return a study or an answer as HTML: what was asked, what to pour, what is off, limits; names are text.

    A `Study` says what was read of it and warns as `check` does. Nothing is loaded, and the style stays inside.
    What holds an answer back is solved for when first asked, within half a second.
    """
    values = _answer(shown) if isinstance(shown, Fit) else _study(shown)
    return page("notebook.html", **values)


def _answer(found: Fit) -> dict[str, Any]:
    study, judged = found.study, found.judged
    certain, verdict = certainty_word(found), with_notes(verdict_text(found, marked=True), notes_on(found))
    shown = Shown(study, judged, verdict, certain, found.reasons, found.holding)
    return {
        **_head(study, verdict, certain),
        "pour": pour_rows(study, judged),
        "total": pour_total(judged, decimals_of_balance(study)),
        "off": off_rows(shown)[:MOST_ROWS],
        "scale": Scale(judged.residuals),
        "width": WIDTH,
        "said": [text for text in (_rest(study, judged.residuals), *rest_text(study, judged)) if text],
        "limits": limit_cells(shown),
    }


def _study(study: Study) -> dict[str, Any]:
    rows = [row for row in study.target.rows if row.kind == "named"]
    missing = no_source(study)
    said = [f"No bottle holds {', '.join(missing)}."] if missing else []
    said += [f"{item.stock.label} is left out: {item.reason}." for item in study.set_aside if not item.stock.recipe]
    verdict = f"{counted(len(rows), 'row')} of a target, {counted(len(study.stocks), 'stock')} to pour from."
    return {
        **_head(study, verdict, ""),
        "wanted": [(row.label, _wanted(row)) for row in sorted(rows, key=lambda row: (-row.share, row.label))],
        "said": said + [str(finding) for finding in study.warnings],
    }


def _head(study: Study, verdict: str, certainty: str) -> dict[str, Any]:
    title = study.title or "Untitled study"
    when = ("Day", study.date.isoformat())
    return {"title": title, "verdict": verdict, "certainty": certainty, "asked": [*asked(study), when]}


def _rest(study: Study, residuals: Sequence[Residual]) -> str:
    """Say what the rows count for that are not shown."""
    measure = study.settings.fit.measure
    parts = sorted(part_of_deviation(residuals, measure).values(), reverse=True)
    return others(max(len(parts) - MOST_ROWS, 0), sum(parts[MOST_ROWS:]), measure)


def _wanted(row: TargetRow) -> str:
    return f"{percent(row.low, 2)} to {percent(row.high, 2)}" if row.band else row_percent(row.share)
