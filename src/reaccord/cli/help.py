"""`reaccord help`: the pages of the manual, rendered on a terminal, Markdown in a pipe or a file."""

from __future__ import annotations

import sys

from reaccord.cli.result import Options, Result
from reaccord.cli.streams import on_terminal
from reaccord.findings import UsageError
from reaccord.manual import pages
from reaccord.names.key import did_you_mean, nearest
from reaccord.report.csvs import topics_csv


def run(topic: str, options: Options) -> Result:
    """Show a page, or the list of all.

    Raises
    ------
    UsageError
        If there is no page of that name.
    """
    if topic and topic not in pages.TOPICS:
        hint = did_you_mean(nearest(topic, pages.TOPICS))
        raise UsageError(f'the manual has no page "{topic}".{hint} It has: {", ".join(pages.TOPICS)}.')
    words = pages.page(topic) if topic else pages.contents()
    told = {name: pages.line(name) for name in ([topic] if topic else pages.TOPICS)}
    on_screen = bool(topic) and options.out is None and on_terminal(sys.stdout)
    return Result(
        "help",
        "done",
        0,
        {"topics": told, "page": words},
        lambda width: rendered(words, width) if on_screen else words,
        lambda: topics_csv(told),
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
