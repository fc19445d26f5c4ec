"""`reaccord overdose`: a series of vials with one constituent at given multiples."""

from __future__ import annotations

from typing import Annotated

import typer

from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import UsageError

MODES = ("spike", "refit")


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
    options: opt.Options,
) -> Result:
    """Make a series with a minor constituent at given multiples."""
    grams = opt.grams_of("--vial-g", vial_g)
    if mode not in MODES:
        raise UsageError(f'--mode takes spike or refit, not "{mode}".')
    if mode == "refit" and grams is not None:
        raise UsageError("--vial-g is for spikes: with --mode refit each multiple is a batch of its own.")
    from reaccord.cli.inputs import closest, study_and_formula
    from reaccord.cli.searching import Searching
    from reaccord.questions.overdose import refit, series
    from reaccord.questions.overdose.wanted import read_times, read_wanted
    from reaccord.report.overdose import overdose_csv, overdose_data, overdose_text

    multiples = read_times(times, least=1.0 if mode == "spike" else 0.0)
    read, agreed = study_and_formula(study, formula, options)
    wanted = read_wanted(read, of)
    with Searching(read, limits, quiet=options.quiet) as searching:
        agreed = agreed or closest(read, searching.budget)
        if mode == "spike":
            found = series.overdose(agreed.study, agreed.amounts, wanted, multiples, grams)
        else:
            found = refit.refit(agreed.study, agreed.amounts, wanted, multiples, searching.budget)
    proven = agreed.proven and found.proven
    return Result(
        overdose_data(found),
        lambda width: overdose_text(found, width),
        lambda: overdose_csv(found),
        "done" if proven else "feasible",
        searching.code(proven=proven),
        agreed.warnings,
    )
