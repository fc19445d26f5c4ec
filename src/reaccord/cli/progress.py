"""One line on stderr while a search takes long."""

from __future__ import annotations

import sys
import time

from reaccord.contract import gap_of

PATIENCE = 2.0
"""Seconds before the first word."""
PAUSE = 0.2


class Progress:
    """Tells best value, bound, gap and nodes; only on a terminal, and never when quiet."""

    def __init__(self, quiet: bool, what: str = "deviation") -> None:
        self._what = what
        self._on = not quiet and sys.stderr.isatty()
        self._start = self._last = time.monotonic()
        self._shown = False

    def __call__(self, value: float, bound: float, nodes: int) -> None:
        """Show where the search stands."""
        now = time.monotonic()
        if not self._on or now - self._start < PATIENCE or now - self._last < PAUSE:
            return
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
