"""Ctrl-C (or SIGTERM) during a search keeps the best formula found; a second one ends the run."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from reaccord.cli.signals import ENDING, end
from reaccord.findings import NoAnswer

CUT_SHORT = "interrupted"
"""Code of the finding that says so."""


class Interrupted(NoAnswer):
    """Interrupted before any formula was found."""

    exit_code = 130
    code = CUT_SHORT


class Interrupt:
    """Whether Ctrl-C was pressed while `catch` was open."""

    def __init__(self) -> None:
        self.pressed = False

    @contextmanager
    def catch(self) -> Iterator[None]:
        """Turn the first Ctrl-C into `pressed`; the second raises KeyboardInterrupt as ever."""
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        before = {number: signal.getsignal(number) for number in ENDING}
        heeded = [number for number, handler in before.items() if handler != signal.SIG_IGN]
        for number in heeded:
            signal.signal(number, self._handle)
        try:
            yield
        finally:
            for number in heeded:
                signal.signal(number, before[number])

    def _handle(self, number: int, frame: object) -> None:
        if self.pressed:
            end(number, frame)
        self.pressed = True
