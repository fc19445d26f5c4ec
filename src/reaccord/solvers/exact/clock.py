"""When to stop: seconds used up or a request from outside."""

from __future__ import annotations

import time

from reaccord.contract import Effort


class Clock:
    """Counts from its making; `over()` says whether to stop."""

    def __init__(self, effort: Effort) -> None:
        self._start = time.perf_counter()
        self._effort = effort
        self._ended = False

    def elapsed(self) -> float:
        """Return seconds since the start."""
        return time.perf_counter() - self._start

    def over(self) -> bool:
        """Return True once the seconds are used up or `stop()` has asked to end; it stays so."""
        self._ended = self._ended or self.elapsed() >= self._effort.seconds or self._effort.stop()
        return self._ended
