"""Points solved side by side, in processes; the same answers whatever their number.

Each begins from a formula that was known before its round, never from one that another process finds meanwhile.
"""

from __future__ import annotations

import multiprocessing
import signal
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from types import TracebackType
from typing import Any, Self

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.contract import Answer, Budget
from reaccord.domain.study import Study
from reaccord.findings import NoAnswer, NoFormula
from reaccord.questions.axis import Axis
from reaccord.questions.epsilon_constraint import Ceilings
from reaccord.questions.processes import spared

POLLING = 0.2
"""Seconds between two looks at whether to stop."""


class Pool:
    """Fits of one study at several ceilings of an axis."""

    def __init__(self, ceilings: Ceilings, deadline: Budget, workers: int) -> None:
        self._ceilings, self._deadline, self._workers = ceilings, deadline, workers
        self._executor: ProcessPoolExecutor | None = None
        self._stop: Any = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._executor is not None:
            self._stop.set()
            self._executor.shutdown(cancel_futures=True)

    def fits(self, asked: Sequence[tuple[float, Answer]]) -> Iterator[Fit | NoAnswer | NoFormula]:
        """Yield the answer at each ceiling, in order; none in time, none possible and none weighable as such.

        `asked` are ceilings and the answers to begin from.
        """
        if self._workers < 2 or len(asked) < 2:
            for ceiling, near in asked:
                yield fitted(self._ceilings, ceiling, self._deadline.rest(start=near.amounts, warm=near.warm))
            return
        executor = self._executor or self._begin()
        gap, left = self._deadline.gap, self._deadline.left()
        with spared():  # the workers start here
            futures = [executor.submit(_fitted, ceiling, gap, left, near) for ceiling, near in asked]
        for future in futures:
            yield self._result(future)

    def _result(self, future: Future[Fit | NoAnswer | NoFormula]) -> Fit | NoAnswer | NoFormula:
        """Wait for a result; a request to stop reaches the workers meanwhile."""
        while True:
            if self._deadline.stop():
                self._stop.set()
            try:
                return future.result(timeout=POLLING)
            except TimeoutError:
                continue

    def _begin(self) -> ProcessPoolExecutor:
        context = multiprocessing.get_context("spawn")  # a fork would take threads and signals along
        self._stop = context.Event()
        self._executor = ProcessPoolExecutor(
            self._workers, context, _start, (self._ceilings.study, self._ceilings.axis, self._stop)
        )
        return self._executor


def fitted(ceilings: Ceilings, ceiling: float, budget: Budget) -> Fit | NoAnswer | NoFormula:
    """Return the fit at a ceiling, or why there is none."""
    limited = ceilings.axis.at(ceilings.study, ceiling)
    try:
        return fit(limited, budget, ceilings.stated(limited), shorten=False)
    except (NoAnswer, NoFormula) as none:
        return none


_own: dict[str, Any] = {}
"""What a worker process was started with."""


def _start(study: Study, axis: Axis, stop: Any) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the first process, which sets `stop`
    _own.update(ceilings=Ceilings(study, axis), stop=stop)


def _fitted(ceiling: float, gap: float, seconds: float, near: Answer) -> Fit | NoAnswer | NoFormula:
    budget = Budget(gap, seconds, _own["stop"].is_set, start=near.amounts, warm=near.warm)
    return fitted(_own["ceilings"], ceiling, budget)
