"""`reaccord spread`: how the result moves with natural variation."""

from __future__ import annotations

from typing import Annotated

import typer

from reaccord.cli import numbers
from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import UsageError


@command(out=opt.PICTURE)
def spread(
    study: opt.Study,
    draws: Annotated[str, typer.Option("--draws", metavar="N", help="How many compositions to draw.")] = "10000",
    seed: Annotated[str, typer.Option("--seed", metavar="N", help="The same seed, the same draws.")] = "1",
    robust: Annotated[
        bool, typer.Option("--robust", help="Also find the formula that is best for the whole spread.")
    ] = False,
    hold: Annotated[
        str | None,
        typer.Option(
            "--hold", metavar="SHARE|all", help="Draws in which its restricted limits must hold; default all."
        ),
    ] = None,
    formula: opt.Formula = None,
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Say how the result moves with natural variation."""
    number, first = numbers.whole_of("--draws", draws, 1), numbers.whole_of("--seed", seed, 0)
    share = hold_of(hold, robust)
    from reaccord.cli.inputs import closest, study_and_formula
    from reaccord.cli.searching import Searching
    from reaccord.questions.spread import spread as question
    from reaccord.report.spread import spread_csv, spread_data, spread_text
    from reaccord.report.spread_picture import spread_picture

    read, agreed = study_and_formula(study, formula, options)
    with Searching(read, limits, quiet=options.quiet) as searching:
        agreed = agreed or closest(read, searching.budget)
        given = (agreed.study, agreed.amounts, number, first)
        found = question.spread(*given, robust=robust, hold=share, budget=searching.budget)
    proven = agreed.proven and (found.compared is None or found.compared.answer.status == "proven")
    return Result(
        spread_data(found),
        lambda width: spread_text(found, width),
        lambda: spread_csv(found),
        "done" if proven else "feasible",
        searching.code(proven=proven),
        agreed.warnings,
        lambda ending: spread_picture(found, ending),
    )


def hold_of(text: str | None, robust: bool) -> float:
    """Read `--hold`, the share of draws in which restricted limits must hold: `all`, or a share with its sign.

    Raises
    ------
    UsageError
        If it is neither, or stands without `--robust`.
    """
    from reaccord.tables.cells import BadCell, share

    if text is None:
        return 1.0
    if not robust:
        raise UsageError("--hold says how the robust formula is found: it needs --robust.")
    if text.strip().lower() == "all":
        return 1.0
    try:
        value = share(text.strip(), sign_needed=True)
    except BadCell as fault:
        raise UsageError(f'--hold: {fault} Write "95 %", or all.') from None
    if not 0.5 <= value <= 1:
        raise UsageError(f"--hold must be from 50 % to 100 %, not {text}.")
    return value
