"""What people see on stderr while it takes long; nothing in a pipe, and nothing when quiet."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from reaccord.cli.streams import on_terminal

PATIENCE = 2.0
"""Seconds before the first word."""
PAUSE = 0.2

Told = Callable[[int, int | None], None]
"""Is told how many are done, and of how many if that is known."""


class Progress:
    """One line: best value, bound, gap and nodes of a search."""

    def __init__(self, quiet: bool, what: str = "deviation") -> None:
        self._what = what
        self._on = not quiet and on_terminal(sys.stderr)
        self._start = self._last = time.monotonic()
        self._shown = False

    def __call__(self, value: float, bound: float, nodes: int) -> None:
        """Show where the search stands."""
        now = time.monotonic()
        if not self._on or now - self._start < PATIENCE or now - self._last < PAUSE:
            return
        from reaccord.contract import gap_of  # brings numpy, which is there by now

        self._last, self._shown = now, True
        best = (
            "no formula yet" if value == float("inf") else f"{self._what} {value:.6g}, gap {gap_of(value, bound):.2%}"
        )
        sys.stderr.write(f"\r\033[K{now - self._start:.0f} s  {best}, bound {bound:.6g}, {nodes} nodes")
        sys.stderr.flush()

    def done(self) -> None:
        """Clear the line."""
        if self._shown:
            sys.stderr.write("\r\033[K")
            sys.stderr.flush()


@contextmanager
def bar(quiet: bool, what: str, total: int | None = None) -> Iterator[Told | None]:
    """Show a bar of how many of `what` are done, of `total` at first; give what is told, None where nobody sees it."""
    if quiet or not on_terminal(sys.stderr):
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(file=sys.stderr), transient=True) as progress:
        task = progress.add_task(what, total=total)

        def told(done: int, of: int | None) -> None:
            counted = what if of is None else f"{done} of {of} {what}"
            progress.update(task, completed=done, total=of, description=counted)

        yield told
