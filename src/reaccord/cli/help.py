"""`reaccord help`: the pages of the manual, rendered on a terminal, Markdown in a pipe or a file."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.cli.streams import NO_TERMINAL, on_terminal
from reaccord.findings import UsageError


def _topics(incomplete: str) -> list[str]:
    """Return the pages that begin so, for a shell that completes words."""
    from reaccord.manual.pages import TOPICS

    return [topic for topic in TOPICS if topic.startswith(incomplete)]


@command()
def help(  # noqa: A001  # the parser takes the command's name from it
    topic: Annotated[
        str,
        typer.Argument(
            metavar="TOPIC",
            help="A page; without one, the list of them.",
            show_default=False,
            autocompletion=_topics,
        ),
    ] = "",
    *,
    options: opt.Options,
) -> Result:
    """Show a page of the manual."""
    from reaccord.manual import pages
    from reaccord.names.key import did_you_mean, nearest
    from reaccord.report.csv_table import csv_text

    topic = topic.strip().lower()
    about, words = (topic, pages.page(topic)) if topic in pages.TOPICS else pages.section_of(topic)
    if topic and not about:
        hint = did_you_mean(nearest(topic, pages.TOPICS))
        raise UsageError(
            f'the manual has no page "{topic}".{hint} It has: {", ".join(pages.TOPICS)}. '
            "What a command takes: reaccord COMMAND --help."
        )
    told = {name: pages.line(name) for name in ([about] if topic else pages.TOPICS)}
    on_screen = bool(topic) and options.out is None and on_terminal(sys.stdout)
    return Result(
        {"topics": told, "page": words or pages.contents(NO_TERMINAL)},
        lambda width: (rendered(words, width) if on_screen else words) or pages.contents(width),
        lambda: csv_text({"topic": str, "about": str}, ({"topic": name, "about": line} for name, line in told.items())),
    )


def rendered(words: str, width: int) -> str:
    """Return a page for a terminal: bold, colours, tables with lines."""
    from rich.console import Console
    from rich.markdown import Markdown
    from rich.theme import Theme

    console = Console(width=width, force_terminal=True, theme=Theme({"markdown.code": "bold cyan"}))
    with console.capture() as captured:
        console.print(Markdown(words, code_theme="ansi_dark"))
    return captured.get()
