"""What people see on stderr while it takes long; nothing in a pipe, and nothing when quiet."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from reaccord.cli.streams import on_terminal

if TYPE_CHECKING:
    from reaccord.contract import FloatArray
    from reaccord.domain.study import Study

PATIENCE = 2.0
"""Seconds before the first word."""
PAUSE = 0.2

Told = Callable[[int, int | None], None]
"""Is told how many are done, and of how many if that is known."""


class Progress:
    """One line: how close the best formula is and how close one could be; with `cost`, what they cost."""

    def __init__(self, quiet: bool, study: Study, cost: bool = False) -> None:
        self._study, self._cost = study, cost
        self._amounts: FloatArray | None = None
        self._on = not quiet and on_terminal(sys.stderr)
        self._start = self._last = time.monotonic()
        self._shown = False

    def found(self, amounts: FloatArray) -> None:
        """Take the amounts (n,) of the best formula: what is wrong of them is only judged when it is shown."""
        self._amounts = amounts

    def __call__(self, value: float, bound: float, nodes: int) -> None:
        """Show where the search stands."""
        del nodes
        now = time.monotonic()
        if not self._on or now - self._start < PATIENCE or now - self._last < PAUSE:
            return
        self._last, self._shown = now, True
        sys.stderr.write(f"\r\033[K{now - self._start:.0f} s  {self._standing(value, bound)}")
        sys.stderr.flush()

    def _standing(self, value: float, bound: float) -> str:
        from reaccord.contract import gap_of  # brings numpy, which is there by now
        from reaccord.report.quantities import rough_percent
        from reaccord.report.verdict import KNOWN

        if value == float("inf"):
            return "no formula yet"
        if self._cost:
            return f"cheapest so far {value:.2f} per kg; nothing as close can cost less than {bound:.2f}"
        gap = gap_of(value, bound)
        best = (
            "a formula is found"
            if self._amounts is None
            else f"closest so far {self._wrong(self._amounts):.1f} % wrong"
        )
        return f"{best}; nothing can be more than {rough_percent(gap)} closer" if gap < KNOWN else best

    def _wrong(self, amounts: FloatArray) -> float:
        """Return how much of a formula is the wrong substance, in percent."""
        from reaccord.answer.judge import judge

        poured = {s.key: float(x) for s, x in zip(self._study.stocks, amounts, strict=False) if x > 0}
        return 100 * judge(self._study, poured).closeness.misplaced_share

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
