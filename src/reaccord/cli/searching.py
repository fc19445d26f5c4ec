"""A search that Ctrl-C ends, with progress on stderr."""

from __future__ import annotations

from contextlib import ExitStack
from typing import TYPE_CHECKING

from reaccord.cli.interrupt import Interrupt, Interrupted
from reaccord.cli.options import Limits
from reaccord.cli.progress import Progress
from reaccord.contract import Budget
from reaccord.findings import NoAnswer, ReaccordError

if TYPE_CHECKING:
    from reaccord.domain.study import Study

NOT_PROVEN = 5
"""Exit code."""


class Searching:
    """Use as a context: inside, `budget` is what a search gets.

    A `ReaccordError` that leaves it takes the study's warnings along, and is `Interrupted` where Ctrl-C left none.
    """

    def __init__(self, study: Study, limits: Limits, *, quiet: bool, told: str = "deviation") -> None:
        self._study = study
        self._interrupt, self._progress = Interrupt(), Progress(quiet, told)
        self.budget = Budget(limits.gap, limits.seconds, lambda: self._interrupt.pressed, self._progress)
        self._open = ExitStack()

    def __enter__(self) -> Searching:
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
