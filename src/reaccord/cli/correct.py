"""`reaccord correct`: what to add now, from what was really poured."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from reaccord.cli import numbers
from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import UsageError

if TYPE_CHECKING:
    from reaccord.questions.correct.correction import Growth


@command()
def correct(
    study: opt.Study,
    poured: Annotated[
        Path | None, opt.path_argument("[POURED]", "What is in the vial (CSV): the sheet with poured_g filled in.")
    ] = None,
    line: Annotated[
        list[str] | None,
        typer.Option("--poured", metavar="NAME=GRAM", help="What is in the vial of one line; again for another."),
    ] = None,
    grow: Annotated[
        str | None,
        typer.Option(
            "--grow", metavar="X", help="How far the accord may grow: by '50 %' (default), or to so many gram."
        ),
    ] = None,
    formula: opt.Formula = None,
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Say what to add now, from what was really poured."""
    growth = _growth(grow)
    from reaccord.cli.inputs import closest
    from reaccord.cli.poured import study_formula_poured
    from reaccord.cli.searching import Searching
    from reaccord.questions.correct import correction
    from reaccord.report.correct import correct_csv, correct_data, correct_text

    read, agreed, there = study_formula_poured(study, formula, (poured, tuple(line or ())), options)
    with Searching(read, limits, quiet=options.quiet) as searching:
        agreed = agreed or closest(read, searching.budget.rest(0.5))
        there.need_strengths(agreed.amounts)
        found = correction.correct(agreed.study, agreed.amounts, there.amounts, growth, searching.budget)
    proven = agreed.proven and found.answer.status == "proven"
    return Result(
        correct_data(found),
        lambda width: correct_text(found, width),
        lambda: correct_csv(found),
        "proven" if proven else "feasible",
        searching.code(proven=proven),
        (*agreed.warnings, *there.warnings_of(agreed)),
    )


def _growth(text: str | None) -> Growth:
    """Read `--grow`: gram of accord (a plain number), or a share above what it is (with its sign)."""
    from reaccord.questions.correct.correction import Growth

    if text is None:
        return Growth()
    cure = 'Write gram of accord (12), or "20 %" above what it is.'
    value, plain = numbers.number_or_share("--grow", numbers.without_gram(text), cure)
    if value < 0 or (plain and value == 0):
        raise UsageError(f"--grow must be above 0, not {text}.")
    return Growth(accord_g=value) if plain else Growth(share=value)
