"""`reaccord frontier`: closeness against cost, lines, carrier or a restricted substance."""

from __future__ import annotations

from typing import Annotated

import typer

from reaccord.cli import numbers
from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result

MOST_WORKERS = 8
"""A round of points is rarely wider."""


@command(out=opt.PICTURE)
def frontier(
    study: opt.Study,
    against: Annotated[
        str,
        typer.Option("--against", metavar="NAME", help="cost, lines, carrier, or a limit on restricted substances."),
    ] = "cost",
    points: Annotated[
        str, typer.Option("--points", metavar="N", help="Find at most N points of the curve; default 12.")
    ] = "12",
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Draw closeness against cost, lines, carrier or a restricted substance."""
    most = numbers.whole_of("--points", points, 2)
    from reaccord.cli.inputs import read_study
    from reaccord.cli.progress import bar
    from reaccord.cli.searching import Searching
    from reaccord.questions import frontier as question
    from reaccord.questions.processes import usable_processors
    from reaccord.report.frontier import frontier_csv, frontier_data, frontier_text
    from reaccord.report.frontier_picture import frontier_picture

    read = read_study(study, options)
    workers = min(usable_processors(), MOST_WORKERS)
    with Searching(read, limits, quiet=True) as searching, bar(options.quiet, "points", most) as told:
        found = question.frontier(read, against, searching.budget, workers, told, points=most)
    return Result(
        frontier_data(found),
        lambda width: frontier_text(found, width),
        lambda: frontier_csv(found),
        found.status,
        searching.code(proven=found.status == "proven"),
        read.warnings,
        lambda ending: frontier_picture(found, ending),
    )
