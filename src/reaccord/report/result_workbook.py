"""A result as a workbook: a sheet each for the verdict, the formula (which reads back), what is off, limits and inputs.

Text stays text, whatever sign it begins with; shares are numbers in percent format.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from reaccord.answer.why.reason import sentence
from reaccord.report.data import cautions
from reaccord.report.quantities import UNITS
from reaccord.report.result_page import MOST_SOURCES, asked
from reaccord.report.terminal import price_text, rest_text, rules_text
from reaccord.report.workbook_cells import OF_UNITS, Kind, Quantity, add_table, new_workbook

if TYPE_CHECKING:
    from reaccord.answer.judge import PouredLine, Residual
    from reaccord.answer.limits_held import LimitState
    from reaccord.report.result_page import Sections, Shown


Heads = Sequence[tuple[str, Kind]]
FORMULA: Heads = (
    *(("material", Kind.TEXT), ("strength", Kind.SHARE), ("carrier", Kind.TEXT), ("lot", Kind.TEXT)),
    *(("grams", Kind.GRAMS), ("share", Kind.SHARE), ("cost", Kind.MONEY)),
)
OFF: Heads = (
    *(("constituent", Kind.TEXT), ("kind", Kind.TEXT), ("wanted, % of accord", Kind.SHARE), ("low, %", Kind.SHARE)),
    *(("high, %", Kind.SHARE), ("got, % of accord", Kind.SHARE), ("off, points", Kind.POINTS)),
    *(("why", Kind.TEXT), ("from", Kind.TEXT)),
)
LIMITS: Heads = (
    *(("limit", Kind.TEXT), ("sense", Kind.TEXT), ("stands at", Kind.NUMBER), ("limit is", Kind.NUMBER)),
    *(("unit", Kind.TEXT), ("holds", Kind.TEXT)),
)
CURVE: Heads = (("wrong, % of accord", Kind.SHARE), ("deviation", Kind.RATIO), ("lines", Kind.NUMBER))
SPREAD: Heads = (
    ("constituent", Kind.TEXT),
    *((f"{draws} of draws, points off", Kind.POINTS) for draws in ("5 %", "half", "95 %")),
)
INPUTS: Heads = (("file", Kind.TEXT), ("sha256", Kind.TEXT))


def result_workbook(found: Shown, sections: Sections) -> bytes:
    """Return the workbook; the sections asked for are sheets of their own."""
    study, judged = found.study, found.judged
    book = new_workbook()
    said = [("Title", study.title), ("Verdict", found.verdict), ("How sure", found.certainty)]
    said += [("Price", price_text(judged)), *(("", text) for text in rest_text(study, judged)), *asked(study)]
    said += [("", text) for text in (*rules_text(study), *cautions(study))]
    add_table(book, "verdict", (("", Kind.TEXT), ("", Kind.TEXT)), said, plain=True)
    add_table(book, "formula", FORMULA, [_poured(line) for line in judged.lines])
    ranked = sorted(judged.residuals, key=lambda r: (-abs(r.scaled), r.row.label))
    add_table(book, "off target", OFF, [_off(r, sentence(found.reasons, r.row.label)) for r in ranked])
    add_table(book, "limits", LIMITS, [_limit(state) for state in judged.limits])
    _more(book, sections)
    add_table(book, "inputs", INPUTS, [tuple(vars(f).values()) for f in study.inputs])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _poured(line: PouredLine) -> tuple[Any, ...]:
    key = line.stock.key
    strength = None if key.strength == 1 else key.strength
    return key.material, strength, key.carrier, key.lot, line.grams, line.share, line.cost


def _off(r: Residual, why: str) -> tuple[Any, ...]:
    wanted = (None, r.row.low, r.row.high) if r.row.band else (r.row.share, None, None)
    sources = ", ".join(f"{name} {part * 100:.0f} %" for name, part in r.sources[:MOST_SOURCES])
    return r.row.label, r.kind, *wanted, r.achieved, r.residual * 100, why, sources


def _limit(state: LimitState) -> tuple[Any, ...]:
    kind = OF_UNITS.get(state.unit, Kind.NUMBER)
    quantities = (Quantity(value, kind) for value in (state.value, state.limit))
    return state.label, state.sense, *quantities, UNITS[state.unit], "yes" if state.held else "no"


def _more(book: Any, sections: Sections) -> None:
    if sections.sheet is not None:
        from reaccord.report.sheet_files import add_sheet

        add_sheet(book, sections.sheet[0])
    if sections.curve is not None:
        from reaccord.report.frontier import heading, quantity_of

        found = sections.curve
        heads = ((f"{heading(found)} of accord", Kind.MONEY), *CURVE)
        judged = [(point, point.fit.judged) for point in found.points]
        rows = [(quantity_of(found, p), j.closeness.misplaced_share, p.value, len(j.lines)) for p, j in judged]
        add_table(book, "curve", heads, rows)
    if sections.spread is not None:
        low, middle, high = sections.spread.outcome.residuals
        names = [row.label for row in sections.spread.study.target.rows]
        rows = list(zip(names, *(quantile * 100 for quantile in (low, middle, high)), strict=True))
        add_table(book, "spread", SPREAD, rows)
    if sections.safety is not None:
        from reaccord.report.dosage import declared_cells, product_cells, total_cells

        for name, cells in (("dosage", product_cells), ("restricted", total_cells), ("label", declared_cells)):
            table = cells(sections.safety)
            if table.rows:
                columns = [(head, Kind.SHARE if head.endswith("%") else Kind.TEXT) for head in table.heads]
                cells_of = [
                    [_figure(cell, kind) for cell, (_, kind) in zip(row, columns, strict=True)] for row in table.rows
                ]
                add_table(book, name, columns, cells_of)


def _figure(cell: str, kind: Kind) -> str | float:
    """Return a figure of a column in percent as a number; words stay words."""
    if kind is Kind.SHARE:
        with suppress(ValueError):
            return float(cell) / 100
    return cell
