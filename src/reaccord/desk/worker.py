"""A process of its own for the searches of one tab: the server stays quick, and a search can be ended anywhere.

The two talk over a pipe. Its other end closed ends the process, however the server went.
"""

from __future__ import annotations

import _thread
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING

from reaccord.questions.processes import THREADS, spared

if TYPE_CHECKING:
    from multiprocessing.context import SpawnProcess
    from types import FrameType

    from reaccord.desk.answering import Job, Message
    from reaccord.domain.study import Study

HEEDED = 3.0
"""Seconds in which a process must have taken up a newer setting; after that it is ended and another begins."""


ENDED = "The search was ended twice from outside, or for want of memory. Move something to try again."
HIGHS = "reaccord.solvers.highs"
"""What must not be left by an exception: compiled code stands between."""


@dataclass(frozen=True)
class Begun:
    """The process has taken up a setting."""

    number: int


@dataclass(frozen=True)
class Fault:
    """What went wrong in the process, a fault of ours."""

    number: int
    why: str


class Worker:
    """The server's end: sends settings, gives what comes back to `heard`, called in a thread of its own.

    What may have to wait for the process is done by one thread more (`_hand`), so that no call here waits.
    """

    def __init__(self, study: Study, heard: Callable[[Message | Fault], None]) -> None:
        self._study, self._heard = study, heard
        self._hand = ThreadPoolExecutor(1)
        self._wanted: Job | None = None
        self._lost: Job | None = None
        self._taken_up = -1
        self._process: SpawnProcess | None = None
        self._do(self._start)

    def ask(self, job: Job) -> None:
        """Have a setting answered in place of the one before; a process that does not heed it is replaced."""
        self._wanted = job
        self._do(self._send, job)
        self._look_again(job)

    def end(self) -> None:
        """End the process."""
        self._wanted = None
        self._do(self._stop)
        self._hand.shutdown(wait=False)

    @property
    def pid(self) -> int | None:
        """The number of the process."""
        return None if self._process is None else self._process.pid

    def _do(self, deed: Callable[..., None], *about: object) -> None:
        with suppress(RuntimeError):  # it has been ended: nothing is left to do
            self._hand.submit(deed, *about)

    def _start(self) -> None:
        context = multiprocessing.get_context("spawn")  # a copy of this process could hold locks of its threads
        self._pipe, theirs = context.Pipe()
        self._taken_up = -1
        self._process = context.Process(target=work, args=(theirs,), name="reaccord desk", daemon=True)
        with spared():
            self._process.start()
        theirs.close()
        threading.Thread(target=self._listen, args=(self._pipe,), daemon=True).start()
        self._send(self._study)

    def _send(self, message: object) -> None:
        with suppress(OSError):  # the process is gone: whoever listens to it notices
            self._pipe.send(message)

    def _stop(self) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.join()
            self._pipe.close()

    def _look_again(self, job: Job) -> None:
        waiting = threading.Timer(HEEDED, self._if_deaf, (job,))
        waiting.daemon = True
        waiting.start()

    def _if_deaf(self, job: Job) -> None:
        """Replace a process that has not taken up a setting which is wanted still; one that only starts is let be."""
        if self._wanted is not job or self._taken_up >= job.number:
            return
        if self._taken_up < 0:
            self._look_again(job)
        else:
            self._do(self._again, self._process)

    def _again(self, deaf: SpawnProcess | None) -> None:
        """Begin anew in place of a process that is of no use, unless that has been done."""
        if self._process is deaf and deaf is not None:
            self._stop()
            self._start()
            if self._wanted is not None:
                self._send(self._wanted)

    def _listen(self, pipe: Connection) -> None:
        process = self._process
        with suppress(EOFError, OSError):
            while True:
                message = pipe.recv()
                if isinstance(message, Begun):
                    self._taken_up = message.number
                elif pipe is self._pipe:
                    self._heard(message)
        if self._process is process and process is not None and self._wanted is not None:  # nobody ended it
            wanted = self._wanted
            if self._lost is wanted:  # twice: it may be what ended it
                self._wanted = None
                self._heard(Fault(wanted.number, ENDED))
            self._lost = wanted
            self._do(self._again, process)


def work(pipe: Connection) -> None:
    """Answer settings until the pipe is closed."""
    for name in THREADS:
        os.environ[name] = "1"
    from reaccord.desk.answering import Answering

    study: Study = pipe.recv()
    box = _Newest(pipe)
    answering = Answering(study, box.send, box.newer)
    box.send(Begun(0))
    while True:
        job = box.take()
        box.send(Begun(job.number))
        try:
            with box.broken_off():
                answering.answer(job)
        except _Superseded:
            continue
        except Exception as fault:  # it is told on the page, and the next setting is answered from the start
            box.send(Fault(job.number, f"A fault of ours: {type(fault).__name__}: {fault}"))
            answering = Answering(study, box.send, box.newer)


class _Superseded(BaseException):
    """Something newer is wanted; no handler of errors below takes it for one."""


class _Newest:
    """The newest setting that came over the pipe.

    A thread listens. It breaks off what the main thread is at by a signal, which Python heeds between any two steps;
    not while HiGHS runs, whose own code asks `newer`, and not while a message is on its way.
    """

    def __init__(self, pipe: Connection) -> None:
        self._pipe, self._there = pipe, threading.Condition()
        self._job: Job | None = None
        self._open = False
        signal.signal(signal.SIGINT, self._break_off)  # Ctrl-C itself is none of this process's business
        threading.Thread(target=self._listen, daemon=True).start()

    def take(self) -> Job:
        """Wait for a setting and take it."""
        with self._there:
            while self._job is None:
                self._there.wait()
            job, self._job = self._job, None
            return job

    def newer(self, seconds: float) -> bool:
        """Whether one waits, now or within so many seconds."""
        if seconds <= 0:
            return self._job is not None
        was, self._open = self._open, False
        try:
            with self._there:
                return self._there.wait_for(lambda: self._job is not None, seconds)
        finally:
            self._open = was

    def send(self, message: Message | Begun | Fault) -> None:
        """Send a message whole."""
        was, self._open = self._open, False
        self._pipe.send(message)
        self._open = was

    @contextmanager
    def broken_off(self) -> Iterator[None]:
        """Let what is done meanwhile be broken off once something newer is there."""
        self._open = True
        try:
            if self._job is not None:
                raise _Superseded
            yield
        finally:
            self._open = False

    def _break_off(self, number: int, frame: FrameType | None) -> None:
        del number
        if not self._open or self._job is None:
            return
        while frame is not None:
            if frame.f_globals.get("__name__") == HIGHS:
                return
            frame = frame.f_back
        self._open = False
        raise _Superseded

    def _listen(self) -> None:
        with suppress(EOFError, OSError):
            while True:
                job: Job = self._pipe.recv()
                with self._there:
                    self._job = job
                    self._there.notify()
                _thread.interrupt_main()
        os._exit(0)  # nobody is left to answer
