"""`reaccord history`: the record that `--log` keeps, and what differs between two formulas of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reaccord.balance.record import Event


@command()
def history(
    file: Annotated[Path, opt.path_argument("FILE", "The file that --log wrote.")],
    between: Annotated[
        str | None, typer.Option("--between", metavar="N,N", help="What differs between the formulas of two runs.")
    ] = None,
    *,
    options: opt.Options,
) -> Result:
    """Show the record of runs that --log keeps."""
    from reaccord.balance.record import changes, events
    from reaccord.report.history import History, history_csv, history_data, history_text

    options.guard([file])
    runs, unread = events(file)
    found = History(runs, unread)
    if between is not None:
        first, second = pair_of(between, runs)
        found = History(runs, unread, (first, second), changes(first, second))
    return Result(history_data(found), lambda width: history_text(found, width), lambda: history_csv(found))


def pair_of(text: str, runs: Sequence[Event]) -> tuple[Event, Event]:
    """Read `--between`.

    Raises
    ------
    UsageError
        If it is not the numbers of two runs.
    """
    words = [word.strip() for word in text.split(",")]
    known = {str(event.number): event for event in runs}
    if len(words) != 2 or any(word not in known for word in words):
        raise UsageError(f'--between takes the numbers of two runs from 1 to {len(runs)}, as "1,2", not "{text}".')
    return known[words[0]], known[words[1]]
