"""`reaccord cheapest`: the cheapest formula that is close enough."""

from __future__ import annotations

from typing import Annotated

import typer

from reaccord.cli import numbers
from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result


@command()
def cheapest(
    study: opt.Study,
    within: Annotated[
        str,
        typer.Option(
            "--within",
            metavar="X",
            help="The deviation allowed: a value, or '5 %' above the closest formula's.",
            show_default=False,
        ),
    ],
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Find the cheapest formula that is close enough."""
    most = numbers.within_of(within)
    from reaccord.cli.inputs import read_study
    from reaccord.cli.searching import Searching
    from reaccord.questions import cheapest as question
    from reaccord.report.cheapest import cheapest_data, cheapest_text
    from reaccord.report.csv_table import formula_csv

    read = read_study(study, options)
    with Searching(read, limits, quiet=options.quiet, cost=True) as searching:
        found = question.cheapest(read, question.Within(*most), searching.budget)
    data = cheapest_data(found)
    return Result(
        data,
        lambda width: cheapest_text(found, width),
        lambda: formula_csv(data["formula"]),
        found.status,
        searching.code(proven=found.status == "proven"),
        read.warnings,
    )
