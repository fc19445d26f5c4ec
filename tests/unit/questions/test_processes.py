from __future__ import annotations

import ctypes
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import wait
from multiprocessing import active_children

import pytest

from reaccord.findings import UsageError
from reaccord.questions import processes
from reaccord.questions.processes import THREADS, Processes, cluster, spared


def surroundings() -> tuple[list[str | None], bool]:
    return [os.environ.get(name) for name in THREADS], signal.getsignal(signal.SIGINT) == signal.SIG_IGN


BLOCKED = "import signal; print(signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, []))"


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="not on Windows")
def test_what_starts_meanwhile_is_spared_ctrl_c_from_its_first_moment() -> None:
    """Before it can say so itself; this process hears it when that is over, whichever thread was handed it."""
    pressed: list[int] = []
    over = threading.Event()
    other = threading.Thread(target=over.wait)  # as a library's threads: nothing keeps it from taking a signal
    other.start()
    before = signal.signal(signal.SIGINT, lambda number, _: pressed.append(number))
    try:
        with spared():
            said = subprocess.run([sys.executable, "-c", BLOCKED], capture_output=True, text=True, check=True)
            os.kill(os.getpid(), signal.SIGINT)
            time.sleep(0.2)  # for the other thread to take it
            assert not pressed
        assert (said.stdout, pressed) == ("True\n", [signal.SIGINT])
    finally:
        signal.signal(signal.SIGINT, before)
        over.set()
        other.join()
    assert signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, [])


def test_workers_have_one_thread_each_and_leave_ctrl_c_to_us(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(THREADS[0], "7")
    monkeypatch.delenv(THREADS[1], raising=False)
    make = Processes(1)
    pool = make()
    assert pool.submit(surroundings).result() == (["1"] * len(THREADS), True)
    assert (os.environ[THREADS[0]], THREADS[1] in os.environ) == ("7", False), "ours stay as they were"
    make.end()
    pool.shutdown()
    assert not active_children()


def test_as_many_workers_as_processors() -> None:
    assert Processes().workers == processes.usable_processors() >= 1


def deaf() -> None:
    """Hold the interpreter's lock in compiled code, as a solver may: no other thread of the worker runs."""
    ctypes.PyDLL(None).sleep(1000)


@pytest.mark.parametrize("work", [signal.pause, deaf])
def test_ended_in_the_middle_of_work(work: Callable[[], None]) -> None:
    make = Processes(2)
    pool = make()
    futures = [pool.submit(work) for _ in range(2)]
    until = time.monotonic() + 60
    while not all(future.running() for future in futures) and time.monotonic() < until:
        time.sleep(0.05)
    make.end()
    done, _ = wait(futures, timeout=60)
    assert len(done) == 2
    pool.shutdown()
    assert not active_children()


def test_without_dask_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UsageError, match=r"pip install 'reaccord\[cluster\]'"), cluster("tcp://127.0.0.1:1"):
        pass


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "nonsense://x", ""])
def test_no_scheduler_there(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed", reason="needs Dask: pip install 'reaccord[cluster]'")
    monkeypatch.setattr(processes, "PATIENCE", "1 s")
    with pytest.raises(UsageError, match=f"no scheduler answers at {address}"), cluster(address):
        pass
