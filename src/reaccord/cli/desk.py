"""`reaccord desk`: the live page, until it is ended."""

from __future__ import annotations

from typing import Annotated

import typer

from reaccord.cli import numbers
from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.cli.streams import say
from reaccord.findings import UsageError

NEEDED = ("starlette", "uvicorn", "tomlkit")


@command()
def desk(
    study: opt.Study,
    port: Annotated[
        str | None, typer.Option("--port", metavar="N", help="Listen at this port; without it, one that is free.")
    ] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Print the address and open no browser.")] = False,
    *,
    options: opt.Options,
) -> Result:
    """Open the live page: move any limit and see what becomes of the formula."""
    number = 0 if port is None else numbers.whole_of("--port", port, 1)
    need_extra()
    from reaccord.desk.run import run

    ended = run(study, number, browser=not no_browser, say=_address if options.quiet else say)
    saved = f"Saved: {', '.join(ended.saved)}.\n" if ended.saved else "Nothing was saved.\n"
    return Result(
        {"address": ended.address, "saved": list(ended.saved)},
        lambda _width: saved,
        lambda: "file\n" + "".join(f"{name}\n" for name in ended.saved),
    )


def _address(text: str) -> None:
    """Say the address alone: without it nobody finds the desk."""
    if "http://" in text:
        say(text)


def need_extra() -> None:
    """Raise `UsageError` where what the desk needs beside the rest is not installed."""
    from importlib.util import find_spec

    missing = [name for name in NEEDED if find_spec(name) is None]
    if missing:
        raise UsageError(
            f"the desk needs {' and '.join(missing)} as well; install what it needs with: pip install 'reaccord[desk]'"
        )
