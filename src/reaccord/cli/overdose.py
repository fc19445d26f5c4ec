"""`reaccord overdose`: a series of vials with one constituent at given multiples."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reaccord.cli import numbers
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
        str,
        typer.Option("--times", metavar="1,2,4,8", help="Multiples of its share; 0: without it.", show_default=False),
    ],
    mode: Annotated[
        str | None,
        typer.Option("--mode", metavar="spike|refit", help="Weigh a spike into one base (usual), or solve again."),
    ] = None,
    vial_g: Annotated[
        str | None,
        typer.Option("--vial-g", metavar="N", help="Gram of base in each vial; default one batch shared among them."),
    ] = None,
    vials: Annotated[
        Path | None,
        opt.path_option("--vials", "Solved again: write each vial as a formula (CSV) into a new folder.", "FOLDER"),
    ] = None,
    formula: opt.Formula = None,
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Make a series with a minor constituent at given multiples."""
    grams = numbers.grams_of("--vial-g", vial_g)
    if vials is not None and options.out is not None and options.out.resolve().parent == vials.resolve():
        raise UsageError(f"{options.out} is in the folder of the vials; write somewhere else.")
    if mode is not None and mode not in MODES:
        raise UsageError(f'--mode takes spike or refit, not "{mode}".')
    from reaccord.cli.inputs import closest, study_and_formula
    from reaccord.cli.searching import Searching
    from reaccord.questions.overdose import refit, series
    from reaccord.questions.overdose.wanted import read_times, read_wanted
    from reaccord.report.files import new_folder, write_whole
    from reaccord.report.overdose import overdose_csv, overdose_data, overdose_text, vial_files

    multiples = read_times(times, least=1.0 if mode == "spike" else 0.0)
    if mode is None:  # nothing is taken out by weighing: leaving out can only mean to solve again
        mode = "refit" if 0 in multiples else "spike"
        multiples = read_times(times, least=1.0 if mode == "spike" else 0.0)
    if mode == "refit" and grams is not None:
        raise UsageError("--vial-g is for spikes: solved again, each multiple is a batch of its own.")
    if mode == "spike" and vials is not None:
        raise UsageError("--vials is for --mode refit: a spiked vial is no formula, it is weighed from base and spike.")
    read, agreed = study_and_formula(study, formula, options)
    wanted = read_wanted(read, of)
    if vials is not None:
        new_folder(vials)
    with Searching(read, limits, quiet=options.quiet) as searching:
        agreed = agreed or closest(read, searching.budget)
        if mode == "spike":
            found = series.overdose(agreed.study, agreed.amounts, wanted, multiples, grams)
        else:
            found = refit.refit(agreed.study, agreed.amounts, wanted, multiples, searching.budget)
    proven = agreed.proven and found.proven
    files = [] if vials is None else [(vials / name, content) for name, content in vial_files(found)]
    for path, content in files:
        write_whole(path, content)
    written = [str(path) for path, _ in files]
    return Result(
        overdose_data(found, written),
        lambda width: overdose_text(found, width, written),
        lambda: overdose_csv(found),
        "done" if proven else "feasible",
        searching.code(proven=proven),
        agreed.warnings,
    )
