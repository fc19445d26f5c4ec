"""The commands in the order `reaccord --help` lists them; each is declared in `commands`."""

from __future__ import annotations

from typing import Annotated

import typer

from reaccord.cli.commands.reading import check, compare, help, new, verify_certificate  # noqa: A004
from reaccord.cli.commands.series import overdose, spread
from reaccord.cli.commands.solving import cheapest, fit, frontier, many

app = typer.Typer(
    name="reaccord",
    help="The closest accord you can really weigh from the bottles on your shelf, what it is short of, and why.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for declared in (new, check, fit, compare, many, overdose, spread, cheapest, frontier, verify_certificate, help):
    app.command()(declared)


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
