"""Commands that look for formulas: `fit`, `cheapest`, `frontier`, `many`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reaccord.cli import options as opt
from reaccord.cli.declare import command
from reaccord.cli.result import Options, Result


@command()
def fit(
    study: opt.Study,
    certificate: Annotated[
        Path | None, opt.path_option("--certificate", "Also write a proof that anyone can check.")
    ] = None,
    *,
    limits: opt.Limits,
    options: Options,
) -> Result:
    """Find the closest formula, with residuals and reasons."""
    from reaccord.cli import fit as work

    return work.run(study, limits, options, certificate)


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
    options: Options,
) -> Result:
    """Find the cheapest formula that is close enough."""
    most = opt.within_of(within)
    from reaccord.cli import cheapest as work

    return work.run(study, most, limits, options)


@command(out=opt.PICTURE)
def frontier(
    study: opt.Study,
    against: Annotated[
        str,
        typer.Option("--against", metavar="NAME", help="cost, lines, carrier, or a limit on restricted substances."),
    ] = "cost",
    *,
    limits: opt.Limits,
    options: Options,
) -> Result:
    """Draw closeness against cost, lines, carrier or a restricted substance."""
    from reaccord.cli import frontier as work

    return work.run(study, against, limits, options)


@command(out=opt.LINES)
def many(
    studies: opt.Studies,
    each_sample: Annotated[
        bool, typer.Option("--each-sample", help="Solve each study once for each sample column of its target table.")
    ] = False,
    scheduler: Annotated[
        str | None,
        typer.Option("--scheduler", metavar="ADDRESS", help="Solve on the workers of this Dask scheduler."),
    ] = None,
    *,
    limits: opt.Limits,
    options: Options,
) -> Result:
    """Solve many studies; what is done already is not done again."""
    from reaccord.cli import many as work

    return work.run(studies, limits, options, each_sample=each_sample, scheduler=scheduler)
