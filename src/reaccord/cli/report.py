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
COST = "limits.cost_per_kg"
"""The curve is against the price."""


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
    wanted = sections_of(sections)
    if options.own is None:
        raise UsageError("--out FILE is needed: a page (result.html) or a workbook (result.xlsx).")
    from reaccord.cli.inputs import study_and_formula
    from reaccord.cli.searching import Searching
    from reaccord.report.files import write_whole
    from reaccord.report.result_page import result_page
    from reaccord.report.result_workbook import result_workbook

    read, agreed = study_and_formula(study, formula, options)
    with Searching(read, limits, quiet=options.quiet) as searching:
        shown, agreed = _shown(read, agreed, searching)
        found = _sections(wanted, agreed, searching)
    html = options.own.suffix.lower() == ".html"
    write_whole(options.own, result_page(shown, found) if html else result_workbook(shown, found))
    said = f"{shown.study.title or 'Untitled study'}: {shown.verdict}\n"
    return Result(
        {"title": shown.study.title, "verdict": shown.verdict, "file": str(options.own), "sections": list(wanted)},
        lambda _width: said,
        lambda: f'file,verdict\n{options.own},"{shown.verdict}"\n',
        agreed.status,
        searching.code(proven=agreed.proven),
        agreed.warnings,
    )


def sections_of(text: str | None) -> tuple[str, ...]:
    """Read `--with`.

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
    return tuple(section for section in SECTIONS if section in words)


def _shown(read: Study, agreed: Agreed | None, searching: Searching) -> tuple[Shown, Agreed]:
    """Return the formula as it is shown, and as it is agreed on."""
    from reaccord.answer.fit import fit
    from reaccord.answer.judge import judge
    from reaccord.answer.why.reasons import reasons
    from reaccord.cli.inputs import Agreed
    from reaccord.report.notes import notes, notes_on, with_notes
    from reaccord.report.result_page import Shown, figures_of
    from reaccord.report.verdict import broken_text, shorter_text, standing, verdict_text

    if agreed is not None:
        judged = judge(agreed.study, agreed.amounts)
        verdict = with_notes(f"{standing(judged)}; this formula {broken_text(judged)}.", notes(agreed.study, judged))
        why = reasons(agreed.study, judged, optimised=False)
        return Shown(agreed.study, judged, verdict, "as given", why), agreed
    found = fit(read, searching.budget)
    certain = "proven" if found.answer.status == "proven" else "closest so far"
    verdict = with_notes(verdict_text(found), notes_on(found))
    why, held, shorter = found.reasons, found.holding, tuple(shorter_text(found))
    shown = Shown(read, found.judged, verdict, certain, why, held, figures_of(found), shorter)
    return shown, Agreed(read, found.amounts, found.answer.status, read.warnings)


def _sections(wanted: tuple[str, ...], agreed: Agreed, searching: Searching) -> Sections:
    """Work out the sections asked for."""
    from reaccord.report.result_page import Sections

    found = Sections()
    if "curve" in wanted:
        from reaccord.questions.frontier import frontier

        found = replace(found, curve=frontier(agreed.study, COST, searching.budget))
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
