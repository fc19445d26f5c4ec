"""`reaccord origins`: two samples of the target, one base for both."""

from __future__ import annotations

from typing import Annotated

import typer

from reaccord.cli import numbers
from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import UsageError


@command()
def origins(
    study: opt.Study,
    first: Annotated[str, typer.Argument(metavar="SAMPLE", help="A sample of the target.", show_default=False)],
    second: Annotated[str, typer.Argument(metavar="SAMPLE", help="Another one.", show_default=False)],
    lines: Annotated[
        str | None,
        typer.Option(
            "--lines", metavar="K", help="At most K lines in base and tails together; default a third more than alone."
        ),
    ] = None,
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Find what tells two samples apart, one base for both and the tail of each."""
    most = None if lines is None else numbers.whole_of("--lines", lines, 1)
    if first == second:
        raise UsageError(f"{first} twice: two samples are needed.")
    from reaccord.cli.inputs import study_of_samples
    from reaccord.cli.searching import Searching
    from reaccord.questions import origins as question
    from reaccord.report.origins import origins_csv, origins_data, origins_text

    read = study_of_samples(study, (first, second), options)
    with Searching(read, limits, quiet=True) as searching:
        found = question.origins(read, (first, second), most, searching.budget)
    return Result(
        origins_data(found),
        lambda width: origins_text(found, width),
        lambda: origins_csv(found),
        found.status,
        searching.code(proven=found.status == "proven"),
        read.warnings,
    )
