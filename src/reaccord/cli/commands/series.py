"""Commands that work on a formula, an agreed one or the closest: `overdose`, `spread`."""

from __future__ import annotations

from typing import Annotated

import typer

from reaccord.cli import options as opt
from reaccord.cli.declare import command
from reaccord.cli.result import Options, Result


@command()
def overdose(
    study: opt.Study,
    of: Annotated[
        str,
        typer.Option("--of", metavar="NAME,...", help="Constituents or rows of the target.", show_default=False),
    ],
    times: Annotated[
        str, typer.Option("--times", metavar="1,2,4,8", help="Multiples of the share it has.", show_default=False)
    ],
    mode: Annotated[
        str, typer.Option("--mode", metavar="spike|refit", help="Weigh a spike into one base, or solve again.")
    ] = "spike",
    vial_g: Annotated[
        str | None,
        typer.Option("--vial-g", metavar="N", help="Gram of base in each vial; default one batch shared among them."),
    ] = None,
    formula: opt.Formula = None,
    *,
    limits: opt.Limits,
    options: Options,
) -> Result:
    """Make a series with a minor constituent at given multiples."""
    from reaccord.cli import overdose as work

    wish = work.Wish(of, times, mode, work.grams_of_text(vial_g), formula)
    return work.run(study, wish, limits, options)


@command()
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
    options: Options,
) -> Result:
    """Say how the result moves with natural variation."""
    from reaccord.cli import spread as work

    number = opt.whole_of("--draws", draws, 1), opt.whole_of("--seed", seed, 0)
    wish = work.Wish(*number, robust, work.hold_of(hold, robust), formula)
    return work.run(study, wish, limits, options)
