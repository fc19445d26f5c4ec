"""A search that Ctrl-C (or SIGTERM) ends: it keeps the best formula found; a second one ends the run."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING

from reaccord.cli.options import Limits
from reaccord.cli.progress import Progress
from reaccord.cli.signals import ENDING, INTERRUPTED, end, heed
from reaccord.findings import NoAnswer, ReaccordError

if TYPE_CHECKING:
    from reaccord.domain.study import Study

NOT_PROVEN = 5
"""Exit code."""
CUT_SHORT = "interrupted"
"""Code of the finding that says so."""


class Interrupted(NoAnswer):
    """Interrupted before any formula was found."""

    exit_code = INTERRUPTED
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


class Searching:
    """Use as a context: inside, `budget` is what a search gets, with progress on stderr (`cost`: it is of the cost).

    A `ReaccordError` that leaves it takes the study's warnings along, and is `Interrupted` where Ctrl-C left none.
    """

    def __init__(self, study: Study, limits: Limits, *, quiet: bool, cost: bool = False) -> None:
        from reaccord.contract import Budget  # brings numpy

        self._study = study
        self._interrupt, self._progress = Interrupt(), Progress(quiet, study, cost)
        stop, found = (lambda: self._interrupt.pressed), self._progress.found
        self.budget = Budget(limits.gap, limits.seconds, stop, self._progress, found=found)
        self._open = ExitStack()

    def __enter__(self) -> Searching:
        heed()
        self._open.callback(self._progress.done)
        self._open.enter_context(self._interrupt.catch())
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, trace: object) -> None:
        self._open.close()
        if not isinstance(fault, ReaccordError):
            return
        fault.warnings += tuple(warning for warning in self._study.warnings if warning not in fault.warnings)
        if isinstance(fault, NoAnswer) and self._interrupt.pressed:
            interrupted = Interrupted("Interrupted before any formula was found.")
            interrupted.warnings = fault.warnings
            raise interrupted from None

    def code(self, *, proven: bool) -> int:
        """Return the exit code of what was found."""
        if proven:
            return 0
        return Interrupted.exit_code if self._interrupt.pressed else NOT_PROVEN
