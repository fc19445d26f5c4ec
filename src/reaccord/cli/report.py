"""`reaccord report`: a result as one page that stands by itself, or as a workbook."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import UsageError

if TYPE_CHECKING:
    from reaccord.cli.inputs import Agreed
    from reaccord.cli.searching import Searching
    from reaccord.domain.study import Study
    from reaccord.report.dosage import Safety
    from reaccord.report.result_page import Sections, Shown

SECTIONS = ("curve", "spread", "sheet", "dosage")
DRAWS, SEED = 10_000, 1
ALWAYS = {".xlsx": "sheet"}
"""A workbook is taken to the bench."""


@command(out=opt.PAGE)
def report(
    study: opt.Study,
    sections: Annotated[
        str | None,
        typer.Option("--with", metavar="SECTION,...", help=f"Also: {', '.join(SECTIONS)}, or all."),
    ] = None,
    formula: opt.Formula = None,
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Write the result as one page that needs nothing else (.html), or as a workbook (.xlsx)."""
    if options.own is None:
        raise UsageError("--out FILE is needed: a page (result.html) or a workbook (result.xlsx).")
    wanted = sections_of(sections, ALWAYS.get(options.own.suffix.lower(), ""))
    from reaccord.answer.formula import formula_rows
    from reaccord.cli.inputs import study_and_formula
    from reaccord.cli.searching import Searching
    from reaccord.report.csv_table import csv_text
    from reaccord.report.data import about, input_rows
    from reaccord.report.result_page import result_page
    from reaccord.report.result_workbook import result_workbook

    read, agreed = study_and_formula(study, formula, options)
    with Searching(read, limits, quiet=options.quiet) as searching:
        shown, agreed = _shown(read, agreed, searching)
        found = _sections(wanted, agreed, searching)
    said = f"{shown.study.title or 'Untitled study'}: {shown.verdict}\n"
    return Result(
        {
            **about(shown.study),
            "verdict": shown.verdict,
            "file": str(options.own),
            "sections": list(wanted),
            "formula": formula_rows(shown.judged),
            "inputs": input_rows(shown.study),
        },
        lambda _width: said,
        lambda: csv_text({"file": str, "verdict": str}, [{"file": options.own, "verdict": shown.verdict}]),
        agreed.status,
        searching.code(proven=agreed.proven),
        agreed.warnings,
        lambda ending: result_page(shown, found) if ending == ".html" else result_workbook(shown, found),
    )


def sections_of(text: str | None, always: str = "") -> tuple[str, ...]:
    """Read `--with`; one section is there always.

    Raises
    ------
    UsageError
        If it names what is no section.
    """
    words = [word.strip().lower() for word in (text or "").split(",") if word.strip()]
    if words == ["all"]:
        return SECTIONS
    unknown = [word for word in words if word not in SECTIONS]
    if unknown:
        raise UsageError(f'--with takes {", ".join(SECTIONS)} or all, not "{unknown[0]}".')
    return tuple(section for section in SECTIONS if section in {*words, always})


def _shown(read: Study, agreed: Agreed | None, searching: Searching) -> tuple[Shown, Agreed]:
    """Return the formula as it is shown, and as it is agreed on."""
    from reaccord.answer.fit import fit
    from reaccord.cli.inputs import Agreed
    from reaccord.report.compare import compared
    from reaccord.report.notes import notes_on, with_notes
    from reaccord.report.result_page import Shown, figures_of
    from reaccord.report.verdict import certainty_word, shorter_text, verdict_text

    if agreed is not None:
        given = compared("", agreed.study, agreed.amounts)
        return Shown(given.study, given.judged, given.verdict, "as given", given.reasons), agreed
    found = fit(read, searching.budget)
    certain, verdict = certainty_word(found), with_notes(verdict_text(found, marked=True), notes_on(found))
    why, held, shorter = found.reasons, found.holding, tuple(shorter_text(found))
    shown = Shown(read, found.judged, verdict, certain, why, held, figures_of(found), shorter)
    return shown, Agreed(read, found.amounts, found.answer.status, read.warnings)


def _sections(wanted: tuple[str, ...], agreed: Agreed, searching: Searching) -> Sections:
    """Work out the sections asked for."""
    from reaccord.report.result_page import Sections

    found = Sections()
    if "curve" in wanted:
        from reaccord.questions.frontier import frontier

        found = replace(found, curve=frontier(agreed.study, budget=searching.budget))
    if "spread" in wanted:
        from reaccord.questions.spread.spread import spread

        found = replace(found, spread=spread(agreed.study, agreed.amounts, DRAWS, SEED, budget=searching.budget))
    if "sheet" in wanted:
        from reaccord.balance.sheet import sheet
        from reaccord.balance.usual_vials import usual_vials

        made = sheet(agreed.study, agreed.amounts, agreed.order)
        found = replace(found, sheet=(made, usual_vials(made)))
    if "dosage" in wanted:
        found = replace(found, safety=_safety(agreed))
    return found


def _safety(agreed: Agreed) -> Safety:
    from reaccord.report.dosage import Safety
    from reaccord.safety.declaration import declared_by
    from reaccord.safety.dosage import dosage

    found = dosage(agreed.study, agreed.amounts)
    return Safety(found, declared_by(agreed.study, found.judged))
