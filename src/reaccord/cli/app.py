"""The commands in the order `reaccord --help` lists them; each has a file of its own."""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module
from typing import Annotated

import typer

from reaccord.cli.words import PlainCommand, PlainGroup

COMMANDS = (
    "new",
    "check",
    "fit",
    "compare",
    "cheapest",
    "frontier",
    "sourcing",
    "alternatives",
    "revise",
    "origins",
    "spread",
    "many",
    "weigh",
    "correct",
    "overdose",
    "blind",
    "history",
    "dosage",
    "report",
    "desk",
    "verify-certificate",
    "help",
)
"""The function of each stands in the file of its name."""


def app_of(commands: Iterable[str] = COMMANDS) -> typer.Typer:
    """Return the command line with some of the commands: to declare those that a run does not ask for takes 20 ms."""
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
    app.callback()(_root)
    for command in commands:
        name = command.replace("-", "_")
        app.command(cls=PlainCommand)(getattr(import_module(f"reaccord.cli.{name}"), name))
    return app


def app_for(words: list[str]) -> typer.Typer:
    """Return the command line for these words: with all commands where the first names none."""
    return app_of(words[:1] if words and words[0] in COMMANDS else COMMANDS)


def _version(wanted: bool) -> None:
    if wanted:
        from reaccord import __version__

        typer.echo(f"reaccord {__version__}")
        raise typer.Exit


def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    del version
