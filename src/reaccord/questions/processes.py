"""Where many studies are solved: processes of this machine, or the workers of a Dask cluster.

Nothing heavy is imported here: a fresh worker reads this module before it knows how many threads it may use.
"""

from __future__ import annotations

import logging
import os
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, Executor, ProcessPoolExecutor, wait
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection

from reaccord.findings import ReaccordError, UsageError

PATIENCE = "10 s"
"""How long a scheduler may take to answer."""
MOST_WORKERS = 61 if sys.platform == "win32" else 1000
"""What `ProcessPoolExecutor` can watch on Windows (its documentation); elsewhere there is no such end."""
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


class Processes:
    """Makes pools of fresh processes, one thread of linear algebra each, and ends them at a word.

    The workers hold one end of a pipe and end when the other end is closed: by `end`, or because this process
    is gone, however it went. Ctrl-C reaches this process alone.
    """

    def __init__(self, workers: int | None = None) -> None:
        self.workers = min(workers or usable_processors(), MOST_WORKERS)
        self._leash: tuple[Connection, ...] = ()
        self._pool: Executor | None = None

    def __call__(self) -> Executor:
        """Return a new pool whose workers run.

        Raises
        ------
        ReaccordError
            If a worker cannot start.
        """
        import multiprocessing

        self.end()
        context = multiprocessing.get_context("spawn")  # a copy of this process could hold locks of its threads
        self._leash = context.Pipe(duplex=False)
        pool = self._pool = ProcessPoolExecutor(self.workers, context, _ready, self._leash[:1])
        try:
            with _one_thread_each(), spared():
                started = [pool.submit(os.getpid) for _ in range(self.workers)]
            wait(started)
            started[0].result()
        except BrokenExecutor:
            raise ReaccordError(
                "the worker processes cannot start. In a script of your own, call from under "
                '`if __name__ == "__main__":`; each worker imports the script.'
            ) from None
        return pool

    def end(self) -> None:
        """End the workers now, whatever they are at."""
        for end in self._leash:
            end.close()
        # compiled code may keep a worker from seeing that; only the pool knows its processes (`kill_workers`: 3.14)
        for process in dict(getattr(self._pool, "_processes", None) or {}).values():
            process.kill()
        self._leash, self._pool = (), None


def usable_processors() -> int:
    """Return how many processors this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not everywhere
        return os.cpu_count() or 1


@contextmanager
def spared() -> Iterator[None]:
    """Let processes started meanwhile be spared Ctrl-C from their first moment; this one hears it afterwards."""
    import signal

    if not hasattr(signal, "pthread_sigmask"):  # Windows
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})  # what is started takes this over
    try:
        with _heard_later(signal.SIGINT):
            yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def _heard_later(number: int) -> Iterator[None]:
    """Keep a signal until the end: the mask of one thread does not keep another from taking it."""
    import signal

    handler = signal.getsignal(number)
    if handler is None or threading.current_thread() is not threading.main_thread():
        yield  # no handler of Python's to put back, or not the thread that runs them
        return
    heard: list[int] = []
    signal.signal(number, lambda taken, _: heard.append(taken))
    try:
        yield
    finally:
        signal.signal(number, handler)
        if heard:
            signal.raise_signal(number)  # to this thread: it waits until the mask is gone


@contextmanager
def cluster(address: str) -> Iterator[tuple[Executor, int]]:
    """Connect to a Dask scheduler; give its executor and how many threads its workers have.

    Raises
    ------
    UsageError
        If Dask is not installed, or nothing answers at the address.
    """
    try:
        from distributed import Client
    except ModuleNotFoundError as missing:
        raise UsageError(
            f"--scheduler needs Dask, and {missing.name} is not installed; install it with: "
            "pip install 'reaccord[cluster]'"
        ) from None
    # what a lost worker had is done again by another; its warning of that would stand among our words
    logging.getLogger("distributed.client").setLevel(logging.ERROR)
    try:
        client = Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError, TypeError) as fault:
        raise UsageError(f"no scheduler answers at {address}: {fault}") from None
    try:
        yield client.get_executor(), sum(client.nthreads().values())
    finally:
        client.close()


def _ready(leash: Connection) -> None:
    """Prepare a fresh worker."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for name in THREADS:
        os.environ[name] = "1"
    threading.Thread(target=_until_let_go, args=(leash,), daemon=True).start()


def _until_let_go(leash: Connection) -> None:
    with suppress(EOFError, OSError):
        leash.recv_bytes()
    os._exit(0)


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Let processes started meanwhile use one thread each: many small problems, a processor for each."""
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
