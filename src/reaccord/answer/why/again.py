"""Solve a changed study again from the answer at hand, within a common time: what reasons are earned by."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace

from reaccord.answer.amounts import amounts_of, by_stock
from reaccord.answer.judge import Judgement, judge
from reaccord.contract import Answer, Budget, FloatArray, Programme
from reaccord.domain.study import Study
from reaccord.solvers.choose import solve

SECONDS = 0.55
"""Of the processor, for all that is asked of one answer: whether a thing is said should not hang on what else runs."""
PATIENCE = 4.0
"""Times as long by the clock."""


class Again:
    """One answer, and the time that is left for questions about it."""

    def __init__(
        self, study: Study, programme: Programme, answer: Answer, stop: Callable[[], bool] = lambda: False
    ) -> None:
        self.study, self.programme, self.answer = study, programme, answer
        self._left, self._stop = SECONDS, stop

    @property
    def left(self) -> float:
        """Seconds of the processor; none once it is stopped, and what is not known then stays so."""
        return 0.0 if self._stop() else self._left

    def keep(self, seconds: float) -> None:
        """Leave no more time than this."""
        self._left = min(self._left, seconds)

    @contextmanager
    def share(self, seconds: float) -> Iterator[Budget]:
        """Give a budget of so much of the time that is left; what is used of it is gone."""
        begun = time.process_time()
        stop = lambda: self._stop() or time.process_time() > begun + seconds  # noqa: E731
        yield replace(Budget(seconds=PATIENCE * seconds, stop=stop).running(), warm=self.answer.warm)
        self._left -= time.process_time() - begun

    def closest(self, study: Study, programme: Programme) -> Judgement | None:
        """Judge the closest formula of a changed study, before rounding; None where it is not proven in time."""
        if self.left <= 0:
            return None
        start = amounts_of(programme, study, by_stock(self.study.stocks, self.answer.formula))
        with self.share(self._left) as budget:
            answer = solve(programme, replace(budget, start=start))
        return judged_of(study, answer.amounts) if answer.status == "proven" and answer.amounts is not None else None


def judged_of(study: Study, amounts: FloatArray) -> Judgement:
    """Judge amounts (n,) of a study's programme."""
    return judge(study, by_stock(study.stocks, amounts))
