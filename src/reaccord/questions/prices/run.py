"""What would help: every limit by what it costs, shorter formulas, a bottle to buy.

A limit is priced where the formula stands at it; beside the study's limits the batch (a smaller one that the old lot
suffices for), the dosage and the balance. Each question begins from the same answer, so that it comes out the same
whatever process it is asked in.
"""

from __future__ import annotations

import pickle
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import Future, wait
from dataclasses import dataclass, replace
from functools import lru_cache

from reaccord.answer.fitted import Fit
from reaccord.answer.why.holding import LetGo
from reaccord.contract import Budget
from reaccord.domain.limit_key import LimitKey
from reaccord.questions.prices.missing import Missing, missing_source
from reaccord.questions.prices.movable import Movable, movables
from reaccord.questions.prices.nearby import Nearby
from reaccord.questions.prices.price import LimitPrice, Step, price_of, shorter
from reaccord.questions.processes import Processes

SHORTER = (0.75, 0.5)
"""Times the lines: so short are the shorter formulas that are told."""
WORTH = 2.5
"""Seconds that the questions left would take: from there on other processes help, which take half a second to start."""
POLLING = 0.2

Told = Callable[[int, int], None]
Reply = LimitPrice | Step | Missing | None


@dataclass(frozen=True)
class Prices:
    """What would help.

    `limits` are those that cost something, the dearest first; `shorter` formulas; `missing` a bottle to buy;
    `unasked` what was not asked in time; `little` the limits that hold the formula back by too little to show.
    """

    limits: tuple[LimitPrice, ...]
    shorter: tuple[Step, ...]
    missing: Missing | None
    unasked: tuple[str, ...]
    little: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Question:
    """Something to ask: a limit, so many lines, or a bottle to buy."""

    label: str
    movable: Movable | None = None
    lines: int | None = None


class _Questions:
    """All that is asked of one answer, the same list in every process; `solved` says what letting go of limits does."""

    def __init__(self, found: Fit, solved: Mapping[LimitKey, LetGo]) -> None:
        self.found, self.solved = found, solved
        self.all = list(self._listed())

    def _listed(self) -> Iterator[_Question]:
        idle = [key for key, gone in self.solved.items() if not gone.holds]
        for movable in movables(self.found, self.solved):
            if movable.key not in idle:  # else no formula without it is closer: known already
                yield _Question(movable.label, movable)
        lines = len(self.found.judged.lines)
        for most in dict.fromkeys(max(1, round(part * lines)) for part in SHORTER):
            if most < lines:
                yield _Question("shorter formulas", lines=most)
        yield _Question("what is not on the shelf")

    def little(self, replies: Iterable[Reply]) -> Iterator[str]:
        """Yield the limits that are known to hold the formula back, of those that were answered with no price."""
        held = [key for key, gone in self.solved.items() if gone.holds]
        for question, reply in zip(self.all, replies, strict=False):
            if question.movable is not None and reply is None and question.movable.key in held:
                yield question.label

    def answered(self, number: int, budget: Budget) -> Reply:
        asked, nearby = self.all[number], Nearby(self.found, budget)
        if asked.lines is not None:
            return shorter(nearby, asked.lines)
        if asked.movable is None:
            return missing_source(nearby)
        known = next((x.answer for key, x in self.solved.items() if x.proven and key == asked.movable.key), None)
        return price_of(nearby, asked.movable, known)


def prices(
    found: Fit,
    budget: Budget,
    solved: Mapping[LimitKey, LetGo] | None = None,
    *,
    workers: int = 1,
    told: Told | None = None,
) -> Prices:
    """Return what the limits cost that a formula stands at, and what else would help.

    Parameters
    ----------
    found, budget
        The formula, and seconds for all that is asked.
    solved
        What letting go of each limit does, where that is known already.
    workers
        Processes that may help where it takes long.
    told
        Is told of questions answered, and of how many there are.
    """
    budget = budget.running()
    asked = _Questions(found, found.let_go if solved is None else solved)
    replies = list(_replies(asked, budget, workers, told))
    limits = sorted((one for one in replies if isinstance(one, LimitPrice)), key=lambda one: (-one.gain, one.label))
    steps = tuple(one for one in replies if isinstance(one, Step))
    missing = next((one for one in replies if isinstance(one, Missing)), None)
    unasked = dict.fromkeys(question.label for question in asked.all[len(replies) :])
    return Prices(tuple(limits), steps, missing, tuple(unasked), tuple(asked.little(replies)))


def _replies(asked: _Questions, budget: Budget, workers: int, told: Told | None) -> Iterator[Reply]:
    """Yield the answers in order, until the time is over."""
    begun, total = time.perf_counter(), len(asked.all)
    for number in range(total):
        if budget.over():
            return
        spent = time.perf_counter() - begun
        if workers > 1 and number and spent / number * (total - number) > WORTH:
            yield from _side_by_side(asked, number, budget, Processes(workers), told)
            return
        yield asked.answered(number, budget)
        if told is not None:
            told(number + 1, total)


def _side_by_side(
    asked: _Questions, first: int, budget: Budget, processes: Processes, told: Told | None
) -> Iterator[Reply]:
    """Yield the answers from one on, each asked in one of several processes."""
    total = len(asked.all)
    whole = pickle.dumps((replace(asked.found), dict(asked.solved)))  # a copy has nothing worked out in it
    try:
        pool, left = processes(), budget.left()
        futures = [pool.submit(_answered, whole, number, budget.gap, left) for number in range(first, total)]
        for future in futures:
            if not _done(future, budget):
                return
            yield future.result()
            if told is not None:
                told(first + sum(one.done() for one in futures), total)
    finally:
        processes.end()


def _done(future: Future[Reply], budget: Budget) -> bool:
    """Wait for an answer; return whether it came in time."""
    while not future.done():
        if budget.over():
            return False
        wait([future], timeout=POLLING)
    return True


def _answered(whole: bytes, number: int, gap: float, seconds: float) -> Reply:
    return _opened(whole).answered(number, Budget(gap, seconds).running())


@lru_cache(maxsize=1)
def _opened(whole: bytes) -> _Questions:
    return _Questions(*pickle.loads(whole))
