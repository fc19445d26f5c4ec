"""Many studies at once, through any executor of `concurrent.futures`; results come as they are found."""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, CancelledError, Executor, Future, wait
from contextlib import ExitStack
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from reaccord.contract import Budget
from reaccord.findings import ReaccordError
from reaccord.questions.many.kept_files import KeptFiles
from reaccord.questions.many.parcel import Parcel, parcels
from reaccord.questions.many.results import Results
from reaccord.questions.many.solved import MOMENT, Asked, Line, failed, solve_parcels
from reaccord.questions.processes import Processes, usable_processors

EACH = 4
"""Messages sent ahead for each worker: enough that none waits, few enough that memory stays flat."""
TOGETHER, WARM = 24, 16
"""Studies of a message at most, where they take no longer than a moment together; and one more for so many solved.

From half as many on a message ends where its shelf does: a shelf is read once, by whoever gets all its studies.
"""
PAUSE = 0.2
"""Seconds between looks at whether to stop."""
ATTEMPTS = 2


class ExecutorLost(ReaccordError):
    """The executor broke and cannot be made again; what was found is written."""

    code = "executor-lost"


@dataclass(frozen=True)
class StudyResult:
    """One result.

    `number` is its place among all that was asked for, in order; `text` the result as JSON, as it is written;
    `taken_over` says that it was there already; `again` that the same was asked for before (`text` is None then).
    """

    number: int
    text: str | None
    taken_over: bool = False
    again: str = ""

    @cached_property
    def line(self) -> Line | None:
        """The result as plain data."""
        return None if self.text is None else json.loads(self.text)


@dataclass
class _Job:
    number: int
    parcel: Parcel
    attempts: int = 0


_Message = list[_Job]


def run_many(
    studies: Iterable[str | Path],
    executor: Executor | Callable[[], Executor] | None = None,
    *,
    out: Path | None = None,
    each_sample: bool = False,
    budget: Budget | None = None,
    in_flight: int | None = None,
) -> Generator[StudyResult, None, None]:
    """Solve studies, and yield each result as it comes.

    Parameters
    ----------
    studies
        Study files (TOML). They and their tables are read here, one study at a time, and sent as bytes: workers need
        this package and no shared disk. A table of several is not read again while it stays as it is (`KeptFiles`);
        a study that is named twice is solved once.
    executor
        Any executor of `concurrent.futures`, or what makes one (called again where a pool broke, so that the
        studies on their way are tried once more); it is left open if it was given open. Default: a process for
        each processor.
    out
        A file of JSON lines. Results in it that still stand are taken over (see `Results.finished`), others
        are appended as they are found.
    each_sample
        Solve each study once for each sample column of its target table.
    budget
        Gap and seconds for each study; once `stop()` is true nothing more is started and the generator ends.
    in_flight
        Most messages on their way to an executor at a time; default four for each processor. A message is one study,
        or several where these take milliseconds.

    Raises
    ------
    UsageError
        If `out` cannot be used.
    ExecutorLost
        If an open executor that was given breaks.
    """
    budget = budget or Budget()
    asked = Asked(budget.gap, budget.seconds)
    with ExitStack() as stack:
        results = stack.enter_context(Results(out)) if out is not None else None
        run = _Run(executor or Processes(), asked, results, budget.stop, in_flight or EACH * usable_processors())
        stack.callback(run.close)
        yield from run.outcomes(_numbered(studies, each_sample))


def _numbered(studies: Iterable[str | Path], each_sample: bool) -> Iterator[_Job]:
    files = KeptFiles()
    every = (parcel for study in studies for parcel in parcels(study, each_sample=each_sample, files=files))
    return (_Job(number, parcel) for number, parcel in enumerate(every))


class _Run:
    """One run: what is on its way, what waits to be tried again."""

    def __init__(
        self,
        source: Executor | Callable[[], Executor],
        asked: Asked,
        results: Results | None,
        stop: Callable[[], bool],
        in_flight: int,
    ) -> None:
        self._source = source
        self._pool = source if isinstance(source, Executor) else None
        self._asked, self._results, self._stop, self._most = asked, results, stop, in_flight
        self._running: dict[Future[tuple[list[str], float]], _Message] = {}
        self._suspects: deque[_Job] = deque()
        self._unsent: deque[_Job] = deque()
        self._seen: set[tuple[str, str | None]] = set()
        self._solved, self._seconds = 0, 0.0

    def outcomes(self, jobs: Iterator[_Job]) -> Iterator[StudyResult]:
        while not self._stop():
            yield from self._start(jobs)
            if not self._running:
                return
            done, _ = wait(self._running, timeout=PAUSE, return_when=FIRST_COMPLETED)
            yield from self._take(done)
        yield from self._take({future for future in self._running if future.done()}, last=True)

    def close(self) -> None:
        """Let go of what is still on its way, and of a pool made here."""
        if self._pool is None:
            return
        if self._pool is self._source:
            for future in self._running:
                future.cancel()
            return
        if isinstance(self._source, Processes):
            self._source.end()
        self._pool.shutdown(wait=isinstance(self._source, Processes), cancel_futures=True)

    def _start(self, jobs: Iterator[_Job]) -> Iterator[StudyResult]:
        """Send studies up to the number in flight; after a break one at a time, to find which one breaks it."""
        while not self._suspects and len(self._running) < self._most and not self._stop():
            message: _Message = []
            most = self._together()
            while len(message) < most and not self._stop():
                job = self._unsent.popleft() if self._unsent else None
                known = None
                if job is None:
                    job = next(jobs, None)
                    if job is None:
                        break
                    known = self._known(job)
                if known is not None:
                    yield known
                elif 2 * len(message) >= most and job.parcel.shelf != message[-1].parcel.shelf:
                    self._unsent.appendleft(job)
                    break
                else:
                    message.append(job)
            if not message:
                return
            self._send(message)
        while self._suspects and not self._running and not self._stop():
            self._send([self._suspects.popleft()])

    def _together(self) -> int:
        """Return how many studies a message may hold, after what the last ones took."""
        warm = min(TOGETHER, 1 + self._solved // WARM)
        return max(1, min(warm, int(MOMENT / max(self._seconds, 1e-9))))

    def _known(self, job: _Job) -> StudyResult | None:
        """Return the outcome of a study that needs no solving."""
        if job.parcel.identity in self._seen:
            return StudyResult(job.number, None, again=job.parcel.name)
        self._seen.add(job.parcel.identity)
        line = self._results.finished(job.parcel, self._asked) if self._results else None
        return None if line is None else StudyResult(job.number, line, taken_over=True)

    def _send(self, message: _Message) -> None:
        fresh = self._pool is None
        if self._pool is None:
            assert not isinstance(self._source, Executor)
            self._pool = self._source()
        try:
            future = self._pool.submit(solve_parcels, [job.parcel for job in message], self._asked)
        except BrokenExecutor as fault:  # it broke after the last look; these studies were never in it
            if fresh:
                raise ExecutorLost(f"a new executor is broken already: {fault}") from None
            self._suspects.extend(message)
            self._broken(fault)
        else:
            for job in message:
                job.attempts += 1
            self._running[future] = message

    def _take(self, done: set[Future[tuple[list[str], float]]], *, last: bool = False) -> Iterator[StudyResult]:
        """Write and yield what is there; whatever was in a pool that broke is tried again."""
        lost: list[_Job] = []
        there: list[StudyResult] = []
        reason: BaseException | None = None
        for future in sorted(done, key=lambda future: self._running[future][0].number):
            message = self._running.pop(future)
            try:
                there += self._answered(message, *future.result())
            except (BrokenExecutor, CancelledError) as fault:
                lost += message
                reason = fault
            except Exception as fault:
                if len(message) > 1:  # one of them, and nobody knows which: each alone
                    self._suspects.extend(message)
                    continue
                told = f"no answer came back: {type(fault).__name__}: {fault}"
                there += [StudyResult(job.number, self._failed(job, told)) for job in message]
        if self._results is not None:
            self._results.append(result.text for result in there if result.text is not None)
        yield from there
        if reason is not None and not last:
            yield from self._again(lost, reason)

    def _answered(self, message: _Message, lines: list[str], seconds: float) -> list[StudyResult]:
        """Return the results of the first studies of a message; those behind them took too long to be answered too."""
        self._solved += len(lines)
        self._seconds = seconds / len(lines)
        for job in reversed(message[len(lines) :]):
            job.attempts -= 1
            self._unsent.appendleft(job)
        return [StudyResult(job.number, line) for job, line in zip(message, lines, strict=False)]

    def _again(self, lost: list[_Job], reason: BaseException) -> Iterator[StudyResult]:
        """Put what was in a broken pool aside, to be sent alone; report what broke a pool alone."""
        if not isinstance(self._source, Executor):
            wait(self._running)  # a broken pool answers for all of them at once
        for future, message in list(self._running.items()):
            if not future.done():
                continue
            del self._running[future]
            if future.cancelled() or future.exception() is not None:
                lost += message
            else:
                for result in self._answered(message, *future.result()):
                    yield self._written(result)
        self._broken(reason)
        for job in sorted(lost, key=lambda job: job.number):
            if job.attempts < ATTEMPTS:
                self._suspects.append(job)
            else:
                text = f"the process that solved this study ended without an answer, {job.attempts} times ({reason})"
                yield self._written(StudyResult(job.number, self._failed(job, text)))

    def _broken(self, reason: BaseException) -> None:
        """Forget a broken pool; the next study makes a new one."""
        if isinstance(self._source, Executor):
            told = ": ".join(part for part in (type(reason).__name__, str(reason)) if part)
            raise ExecutorLost(
                f"the executor is lost ({told}) before all were done; what was found is in the file of results, if any."
            )
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)
        self._pool = None

    def _written(self, result: StudyResult) -> StudyResult:
        if self._results is not None and result.text is not None:
            self._results.append([result.text])
        return result

    def _failed(self, job: _Job, text: str) -> str:
        return failed(job.parcel, self._asked, ReaccordError(text))
