"""Commands that solve nothing: `new`, `check`, `compare`, `verify-certificate`, `help`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reaccord.cli import options as opt
from reaccord.cli.declare import command
from reaccord.cli.result import Options, Result


@command()
def new(
    folder: Annotated[Path, opt.path_argument("FOLDER", "A folder that is new or empty.")],
    options: Options,
) -> Result:
    """Write a commented study to fill in."""
    from reaccord.cli import new as work

    return work.run(folder, options)


@command()
def check(study: opt.Study, options: Options) -> Result:
    """Read everything, report every finding at once, solve nothing."""
    from reaccord.cli import check as work

    return work.run(study, options)


@command()
def compare(
    study: opt.Study,
    formula: Annotated[Path, opt.path_argument("FORMULA", "A formula (CSV).")],
    options: Options,
) -> Result:
    """Judge a given formula the same way, optimise nothing."""
    from reaccord.cli import compare as work

    return work.run(study, formula, options)


@command()
def verify_certificate(
    file: Annotated[Path, opt.path_argument("FILE", "A certificate that fit wrote.")],
    study: Annotated[
        Path | None,
        opt.path_option("--study", "Check that the programme in it is this study's, too.", "STUDY"),
    ] = None,
    *,
    options: Options,
) -> Result:
    """Check a proof in exact arithmetic, by its own numbers alone."""
    from reaccord.cli import verify_certificate as work

    return work.run(file, study, options)


@command()
def help(  # noqa: A001  # the parser takes the command's name from it
    topic: Annotated[
        str, typer.Argument(metavar="TOPIC", help="A page; without one, the list of them.", show_default=False)
    ] = "",
    *,
    options: Options,
) -> Result:
    """Show a page of the manual."""
    from reaccord.cli import help as work

    return work.run(topic, options)
