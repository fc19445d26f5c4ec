"""The process of a tab: answers come from it, a newer move breaks off the older search, and none is left behind."""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.cli.large import write_large
from tests.desk_studies import colours

from reaccord.answer.fit import fit
from reaccord.desk.answering import Answered, Job, NoneFits
from reaccord.desk.handle import name_of
from reaccord.desk.moves import Move, follow
from reaccord.desk.opened import opened
from reaccord.desk.worker import ENDED, Fault, Worker
from reaccord.domain.study import Study

GENEROUS = 120
"""Seconds after which something counts as hung; no test measures time."""
COST, LINES = name_of("limits", "cost_per_kg"), name_of("limits", "lines")


class Heard:
    """A worker and what it says."""

    def __init__(self, study: Study) -> None:
        self.said: queue.Queue[Any] = queue.Queue()
        self.worker = Worker(study, self.said.put)

    def until(self, wanted: Callable[[Any], bool]) -> Any:
        while not wanted(message := self.said.get(timeout=GENEROUS)):
            assert not isinstance(message, Fault), message.why
        return message

    def process_after(self, before: int | None) -> int:
        """Return the number of the process, once it is another."""
        end = time.monotonic() + GENEROUS
        while (pid := self.worker.pid) is None or pid == before:
            assert time.monotonic() < end, "no process"
            time.sleep(0.01)
        return pid


def proven(number: int) -> Callable[[Any], bool]:
    return lambda message: isinstance(message, Answered) and (message.number, message.certainty) == (number, "proven")


@pytest.fixture
def heard(tmp_path: Path) -> Iterator[Heard]:
    study = opened(colours(tmp_path)).study
    assert study is not None
    made = Heard(study)
    yield made
    made.worker.end()


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
        if not Path("/proc/self/stat").exists():
            return True
        return Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()[0] != "Z"
    except (ProcessLookupError, FileNotFoundError):
        return False


def gone(pid: int) -> None:
    end = time.monotonic() + GENEROUS
    while alive(pid):
        assert time.monotonic() < end, "an orphan"
        time.sleep(0.01)


def test_answers_follow_the_moves_and_a_process_that_dies_is_replaced(heard: Heard, tmp_path: Path) -> None:
    worker, study = heard.worker, opened(tmp_path / "study.toml").study
    assert study is not None
    worker.ask(Job(1, {}))
    assert heard.until(proven(1)).amounts == fit(study).amounts
    moves = {COST: Move("30", "60"), name_of("bottle", "Red", "1", "", "b"): Move("out", "in")}
    worker.ask(Job(2, moves))
    told = heard.until(proven(2))
    assert told.judged.closeness == fit(follow(study, {}, moves)).judged.closeness
    worker.ask(Job(3, {COST: Move("1", "60")}))
    none = heard.until(lambda message: isinstance(message, NoneFits))
    assert none.number == 3
    assert "cost" in none.why
    first = worker.pid
    assert first is not None
    worker.ask(Job(4, {}))
    heard.until(proven(4))
    os.kill(first, signal.SIGKILL)
    gone(first)
    second = heard.process_after(first)
    heard.until(proven(4))  # nobody is told of a fault
    worker.end()
    gone(second)


def test_a_setting_at_which_two_processes_died_is_told_of(heard: Heard) -> None:
    heard.worker.ask(Job(1, {}))
    heard.until(proven(1))
    first = heard.process_after(None)
    os.kill(first, signal.SIGKILL)
    os.kill(heard.process_after(first), signal.SIGKILL)
    while not isinstance(message := heard.said.get(timeout=GENEROUS), Fault):
        pass
    assert (message.number, message.why) == (1, ENDED)
    heard.worker.ask(Job(2, {}))
    heard.until(proven(2))


@pytest.mark.sweep
@pytest.mark.quick
def test_a_newer_move_breaks_off_a_search_that_takes_long(tmp_path: Path) -> None:
    study = opened(write_large(tmp_path)).study
    assert study is not None
    heard = Heard(study)
    try:
        heard.worker.ask(Job(1, {}))
        heard.until(lambda message: isinstance(message, Answered) and message.certainty != "proven")
        heard.worker.ask(Job(2, {LINES: Move("1", "")}))
        told = heard.until(lambda message: message.number == 2)
        assert isinstance(told, Answered | NoneFits)
    finally:
        heard.worker.end()


def test_no_process_stays_when_the_server_is_killed(tmp_path: Path) -> None:
    file = colours(tmp_path)
    code = (
        "import sys, time\n"
        "from pathlib import Path\n"
        "from reaccord.desk.opened import opened\n"
        "from reaccord.desk.worker import Worker\n"
        "from reaccord.desk.answering import Job\n"
        "if __name__ == '__main__':\n"
        "    said = []\n"
        "    worker = Worker(opened(Path(sys.argv[1])).study, said.append)\n"
        "    worker.ask(Job(1, {}))\n"
        "    while not said:\n"
        "        time.sleep(0.01)\n"
        "    print(worker.pid, flush=True)\n"
        "    time.sleep(1000)\n"
    )
    server = subprocess.Popen([sys.executable, "-c", code, str(file)], stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    pid = int(server.stdout.readline())
    server.kill()
    server.wait()
    gone(pid)
