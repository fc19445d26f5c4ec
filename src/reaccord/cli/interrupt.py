"""Ctrl-C during a search keeps the best formula found; a second one ends the process."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

from reaccord.findings import NoAnswer


class Interrupted(NoAnswer):
    """Interrupted before any formula was found."""

    exit_code = 130
    code = "interrupted"


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
        before: Any = signal.getsignal(signal.SIGINT)

        def handle(number: int, frame: FrameType | None) -> None:
            if self.pressed:
                raise KeyboardInterrupt
            self.pressed = True

        signal.signal(signal.SIGINT, handle)
        try:
            yield
        finally:
            signal.signal(signal.SIGINT, before)
