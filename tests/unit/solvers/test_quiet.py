"""Compiled code keeps standard output clean."""

from __future__ import annotations

import ctypes
import os
import sys
import threading
import time

import pytest

from reaccord.solvers.quiet import quiet

C = ctypes.CDLL("ucrtbase" if sys.platform == "win32" else None)


def test_what_c_prints_is_gone_and_what_comes_later_is_not(capfd: pytest.CaptureFixture[str]) -> None:
    print("before")
    with quiet():
        C.printf(b"a line from C\n")  # stays in C's buffer until it is flushed
        os.write(1, b"a line past every buffer\n")
    print("after", flush=True)
    C.printf(b"C again\n")
    C.fflush(None)
    assert capfd.readouterr().out.split("\n") == ["before", "after", "C again", ""]


def test_standard_error_only_when_asked(capfd: pytest.CaptureFixture[str]) -> None:
    with quiet():
        os.write(2, b"kept\n")
    with quiet(1, 2):
        os.write(2, b"gone\n")
        os.write(1, b"gone\n")
    assert capfd.readouterr() == ("", "kept\n")


def test_given_back_after_an_error(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(RuntimeError), quiet():
        raise RuntimeError
    os.write(1, b"heard\n")
    assert capfd.readouterr().out == "heard\n"


def test_several_threads_give_it_back(capfd: pytest.CaptureFixture[str]) -> None:
    def work(number: int) -> None:
        for _ in range(100):
            with quiet():
                os.write(1, b"gone\n")
                time.sleep(0.0001 * number)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(1, 5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    os.write(1, b"heard\n")
    assert capfd.readouterr().out == "heard\n"
