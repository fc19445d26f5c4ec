"""`reaccord many --scheduler` on a real Dask cluster: a scheduler and two workers, all processes of their own."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from tests.cli.process import GENEROUS, environment, reaccord
from tests.cli.test_many import until
from tests.unit.questions.many_helpers import lines_of, several

pytest.importorskip("distributed", reason="needs Dask: pip install 'reaccord[cluster]'")
STUDIES = 40


@dataclass
class Cluster:
    address: str
    workers: list[subprocess.Popen[bytes]]


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    """Two workers without a nurse that would start them again, in a folder where no study is."""
    away, told = tmp_path / "away", tmp_path / "scheduler.json"
    away.mkdir()
    words = ("--scheduler-file", str(told), "--no-dashboard")
    running = [start("dask_scheduler", away, *words, "--host", "127.0.0.1", "--port", "0", "--no-show")]
    try:
        until(lambda: running[0].poll() is not None or (told.exists() and told.stat().st_size))
        address = json.loads(told.read_text(encoding="utf-8"))["address"]
        running += [start("dask_worker", away, *words, "--no-nanny", "--nthreads", "1") for _ in range(2)]
        yield Cluster(address, running[1:])
    finally:
        for process in running:
            process.kill()
            process.wait()


def start(tool: str, folder: Path, *words: str) -> subprocess.Popen[bytes]:
    quiet = subprocess.DEVNULL
    command = [sys.executable, "-m", f"distributed.cli.{tool}", *words]
    return subprocess.Popen(command, cwd=folder, stdout=quiet, stderr=quiet, env=environment())


def test_a_worker_is_killed_in_the_middle_and_nothing_is_lost_or_twice(cluster: Cluster, tmp_path: Path) -> None:
    """Paths are relative to where the command runs: the workers never see the files."""
    names = [str(path.relative_to(tmp_path)) for path in several(tmp_path, STUDIES)]
    out = tmp_path / "r.jsonl"
    command = [sys.executable, "-m", "reaccord", "many", *names, "--scheduler", cluster.address, "--out", str(out)]
    pipe = subprocess.PIPE
    process = subprocess.Popen(command, cwd=tmp_path, stdout=pipe, stderr=pipe, env=environment())
    until(lambda: process.poll() is not None or (out.exists() and out.read_bytes().count(b"\n") >= 3))
    done = out.read_bytes().count(b"\n")
    cluster.workers[0].send_signal(signal.SIGKILL)
    told, err = process.communicate(timeout=GENEROUS)
    assert done < STUDIES, "it was killed in the middle"
    assert (process.returncode, err) == (0, b"")
    assert told.startswith(f"{STUDIES} results: {STUDIES} proven.".encode())
    lines = lines_of(out)
    assert Counter(line["study"] for line in lines) == Counter(names), "nothing lost and nothing twice"
    here = reaccord("many", names[0], names[-1], "--output", "json", cwd=tmp_path).json["data"]["results"]
    there = {line["study"]: line for line in lines}
    for line in here:
        assert line["formula"] == there[line["study"]]["formula"]


def test_what_is_taken_over_needs_no_worker(cluster: Cluster, tmp_path: Path) -> None:
    names = [str(path.relative_to(tmp_path)) for path in several(tmp_path, 2)]
    first = reaccord("many", *names, "--scheduler", cluster.address, "--out", "r.jsonl", cwd=tmp_path)
    assert first.code == 0
    for worker in cluster.workers:
        worker.kill()
    again = reaccord("many", *names, "--scheduler", cluster.address, "--out", "r.jsonl", cwd=tmp_path)
    assert again.code == 0
    assert "2 of them taken over" in again.out
