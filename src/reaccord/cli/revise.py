"""`reaccord revise`: a formula in use, solved again near what it is."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reaccord.cli import numbers
from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import UsageError


@command()
def revise(
    study: opt.Study,
    formula: Annotated[Path, opt.path_argument("FORMULA", "The formula in use (CSV).")],
    without: Annotated[
        str, typer.Option("--without", metavar="MATERIAL,...", help="Materials that are gone; `;` between them too.")
    ] = "",
    moved: Annotated[
        str | None,
        typer.Option("--moved", metavar="SHARE", help='Move at most this much of its neat mass: "10 %".'),
    ] = None,
    changes: Annotated[
        str | None, typer.Option("--changes", metavar="N", help="Change, add or leave out at most N lines.")
    ] = None,
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Change a formula in use as little as it takes."""
    share = None if moved is None else numbers.share_of("--moved", moved)
    number = None if changes is None else numbers.whole_of("--changes", changes, 0)
    if share is None and number is None:
        raise UsageError('How near must it stay? Write --moved "10 %" or --changes 4, or both.')
    from reaccord.cli.inputs import study_and_formula_in_use
    from reaccord.cli.searching import Searching
    from reaccord.questions import revise as question
    from reaccord.report.csv_table import formula_csv
    from reaccord.report.revise import revise_data, revise_text

    read, used = study_and_formula_in_use(study, formula, _names(without), options)
    with Searching(read, limits, quiet=options.quiet) as searching:
        found = question.revise(read, used, moved=share, changes=number, budget=searching.budget)
    data = revise_data(found)
    return Result(
        data,
        lambda width: revise_text(found, width),
        lambda: formula_csv(data["formula"]),
        found.status,
        searching.code(proven=found.status == "proven"),
        read.warnings,
    )


def _names(text: str) -> list[str]:
    """Return the names of a list; where a semicolon stands, commas are part of names."""
    return [name.strip() for name in text.split(";" if ";" in text else ",") if name.strip()]
