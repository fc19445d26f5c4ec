"""`reaccord sourcing`: which bottles to buy next."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reaccord.cli import numbers
from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result


@command()
def sourcing(
    study: opt.Study,
    catalogue: Annotated[
        Path | None, opt.path_option("--catalogue", "Also what stands in this table of bottles (pack_g, pack_price).")
    ] = None,
    most: Annotated[
        str, typer.Option("--most", metavar="K", help="The best K purchases together, and fewer; default 3.")
    ] = "3",
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Find which bottles to buy next, one by one and together."""
    number = numbers.whole_of("--most", most, 1)
    from reaccord.cli.inputs import study_and_offers
    from reaccord.cli.progress import bar
    from reaccord.cli.searching import Searching
    from reaccord.questions import sourcing as question
    from reaccord.report.sourcing import sourcing_csv, sourcing_data, sourcing_text

    read = study_and_offers(study, catalogue, options)
    with Searching(read.study, limits, quiet=True) as searching, bar(options.quiet, "bottles") as told:
        found = question.sourcing(read, number, searching.budget, told)
    return Result(
        sourcing_data(found),
        lambda width: sourcing_text(found, width),
        lambda: sourcing_csv(found),
        found.status,
        searching.code(proven=found.status == "proven"),
        read.study.warnings,
    )
