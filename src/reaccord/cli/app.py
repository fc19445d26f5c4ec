"""The commands in the order `reaccord --help` lists them; each has a file of its own."""

from __future__ import annotations

from typing import Annotated

import typer

from reaccord.cli.alternatives import alternatives
from reaccord.cli.blind import blind
from reaccord.cli.cheapest import cheapest
from reaccord.cli.check import check
from reaccord.cli.compare import compare
from reaccord.cli.correct import correct
from reaccord.cli.desk import desk
from reaccord.cli.dosage import dosage
from reaccord.cli.fit import fit
from reaccord.cli.frontier import frontier
from reaccord.cli.help import help  # noqa: A004
from reaccord.cli.history import history
from reaccord.cli.many import many
from reaccord.cli.new import new
from reaccord.cli.origins import origins
from reaccord.cli.overdose import overdose
from reaccord.cli.report import report
from reaccord.cli.revise import revise
from reaccord.cli.sourcing import sourcing
from reaccord.cli.spread import spread
from reaccord.cli.verify_certificate import verify_certificate
from reaccord.cli.weigh import weigh
from reaccord.cli.words import PlainCommand, PlainGroup

COMMANDS = (
    new,
    check,
    fit,
    compare,
    cheapest,
    frontier,
    sourcing,
    alternatives,
    revise,
    origins,
    spread,
    many,
    weigh,
    correct,
    overdose,
    blind,
    history,
    dosage,
    report,
    desk,
    verify_certificate,
    help,
)

app = typer.Typer(
    name="reaccord",
    cls=PlainGroup,
    help="The closest accord you can really weigh from the bottles on your shelf, what it is short of, and why.",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for each in COMMANDS:
    app.command(cls=PlainCommand)(each)


def _version(wanted: bool) -> None:
    if wanted:
        from reaccord import __version__

        typer.echo(f"reaccord {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    del version
