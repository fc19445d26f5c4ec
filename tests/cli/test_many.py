"""`reaccord many` as a person or a script runs it."""

from __future__ import annotations

import csv
import io
import json
import os
import pty
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.large import write_large
from tests.cli.process import GENEROUS, environment, reaccord
from tests.unit.questions.many_helpers import BAD, IMPOSSIBLE, lines_of, several, study


def alive(process: int) -> bool:
    """Whether a process runs; one that has ended and waits for its parent does not."""
    try:
        return Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def children(process: int) -> list[int]:
    return [int(word) for word in Path(f"/proc/{process}/task/{process}/children").read_text().split()]


def until(true: Callable[[], object]) -> None:
    last = time.monotonic() + GENEROUS
    while not true():
        assert time.monotonic() < last, "waited too long"
        time.sleep(0.05)


def test_the_table_keeps_the_order_and_the_code_is_the_highest(tmp_path: Path) -> None:
    paths = [
        study(tmp_path, "impossible", settings=IMPOSSIBLE),
        *several(tmp_path, 3),
        study(tmp_path, "bad", bottles=BAD),
    ]
    names = [str(path.relative_to(tmp_path)) for path in paths]
    ended = reaccord("many", *names, names[1], "--out", "r.jsonl", cwd=tmp_path)
    assert ended.code == 4
    assert ended.err == f"warning: {names[1]}: named before; solved once.\n"
    head, blank, _, *table = ended.out.splitlines()
    assert (head, blank) == ("5 results: 3 proven, 1 infeasible, 1 invalid input.", "")
    assert [line.split()[0] for line in table if line[0] != " "] == names
    assert "Geraniol exactly 500 g" in ended.out
    assert "bottles.csv, row 2, column purity: blank; how pure is the geraniol in it?" in ended.out
    again = reaccord("many", *names, "--out", "r.jsonl", "--quiet", cwd=tmp_path)
    assert (again.code, again.err) == (4, "")
    assert "; 5 of them taken over from an earlier run." in again.out
    assert len(lines_of(tmp_path / "r.jsonl")) == 5


def test_0_when_all_are_proven_and_the_forms_agree(tmp_path: Path) -> None:
    target = "constituent,G1,G2\ngeraniol,60,70\ncitronellol,40,30"
    path = study(tmp_path, "s", target=target)
    out, log = tmp_path / "r.jsonl", tmp_path / "log"
    first = reaccord("many", path, "--each-sample", "--out", out, "--output", "json", "--log", log)
    assert (first.code, first.json["status"], first.json["exit_code"]) == (0, "proven", 0)
    data = first.json["data"]
    assert (data["complete"], data["counts"], data["taken_over"]) == (True, {"proven": 2}, 0)
    assert [line["sample"] for line in data["results"]] == ["G1", "G2"]
    assert sorted(map(str, data["results"])) == sorted(map(str, lines_of(out)))
    second = reaccord("many", path, "--each-sample", "--out", out, "--output", "csv")
    rows = list(csv.DictReader(io.StringIO(second.out)))
    assert [(row["sample"], float(row["value"]), int(row["lines"])) for row in rows] == [
        (line["sample"], line["value"], len(line["formula"])) for line in data["results"]
    ]
    noted = json.loads(log.read_text(encoding="utf-8"))
    assert (noted["command"], noted["counts"], noted["exit_code"]) == ("many", {"proven": 2}, 0)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ((), "Missing argument"),
        (("study.toml", "--out", "r.csv"), "--out r.csv: nothing is written as .csv; end it in .jsonl or .ndjson."),
        (("study.toml", "--out", "study.toml"), "--out study.toml: nothing is written as .toml"),
        (("study.toml", "--out", "bottles"), "bottles, row 1: not a result of `reaccord many`."),
        (("study.toml", "--out", "none/r.jsonl"), "there is no folder none."),
        (("study.toml", "--log", "bottles.csv"), "--log bottles.csv: a log holds lines of JSON, not a table"),
        (("study.toml", "--gap", "5"), "--gap must be from 0 to below 1 (100 %), not 5."),
    ],
)
def test_2_for_words_it_cannot_take(words: tuple[str, ...], sentence: str, tmp_path: Path) -> None:
    folder = study(tmp_path, "s").parent
    (folder / "bottles").write_bytes((folder / "bottles.csv").read_bytes())
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    ended = reaccord("many", *words, cwd=folder)
    assert (ended.code, ended.out) == (2, "")
    assert sentence in ended.err
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.name in before} == before


def test_without_dask(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    path = study(tmp_path, "s")
    ended = reaccord("many", path, "--scheduler", "tcp://127.0.0.1:1")
    assert (ended.code, ended.out) == (2, "")
    assert "pip install 'reaccord[cluster]'" in ended.err
    assert reaccord("many", path).code == 0, "and nobody else needs it"


def started(out: Path, paths: list[Path], *words: str) -> subprocess.Popen[bytes]:
    """Start a run in a session of its own, as a terminal does, and wait for its first line."""
    process = subprocess.Popen(
        [sys.executable, "-m", "reaccord", "many", *map(str, paths), "--out", str(out), *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment(),
        start_new_session=True,
    )
    until(lambda: process.poll() is not None or (out.exists() and out.read_bytes().count(b"\n") >= 2))
    assert process.poll() is None
    return process


@pytest.fixture
def endless(tmp_path: Path) -> list[Path]:
    """Two studies that are done at once and two that take longer than any test waits."""
    return [*several(tmp_path, 2), *(write_large(tmp_path / f"large{k}", seed=k) for k in range(2))]


def test_ctrl_c_keeps_what_is_there_and_the_same_command_goes_on(endless: list[Path], tmp_path: Path) -> None:
    out = tmp_path / "r.jsonl"
    process = started(out, endless, "--gap", "0")
    workers = children(process.pid)
    os.killpg(process.pid, signal.SIGINT)
    told, err = process.communicate(timeout=GENEROUS)
    assert process.returncode == 130
    assert err.startswith(b"warning: Interrupted before all were done.")
    assert err.count(b"\n") == 1
    assert told.startswith(b"2 results: 2 proven.\n")
    assert b"Interrupted before all were done. The same command goes on" in told
    assert [line["status"] for line in lines_of(out)] == ["proven"] * 2
    until(lambda: not any(map(alive, workers)))
    ended = reaccord("many", *endless, "--out", out, "--gap", "0.9", "--seconds", "1", "--quiet")
    assert "2 of them taken over" in ended.out
    assert Counter(line["study"] for line in lines_of(out)) == Counter(map(str, endless))


def test_killed_outright_no_process_stays_and_the_next_run_goes_on(endless: list[Path], tmp_path: Path) -> None:
    out = tmp_path / "r.jsonl"
    process = started(out, endless, "--gap", "0")
    workers = children(process.pid)
    assert len(workers) >= 2
    process.kill()
    process.communicate()
    until(lambda: not any(map(alive, workers)))
    with out.open("ab") as stream:
        stream.write(b'{"schema": 2, "study": "half')
    ended = reaccord("many", *endless[:2], "--out", out)
    assert ended.code == 0
    assert "2 of them taken over" in ended.out
    assert len(lines_of(out)) == 2


def test_progress_is_for_terminals(tmp_path: Path) -> None:
    paths = several(tmp_path, 3)
    assert reaccord("many", *paths).err == ""
    screen, inside = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "reaccord", "many", *map(str, paths)],
        stdout=subprocess.PIPE,
        stderr=inside,
        env=environment(TERM="xterm-256color"),
    )
    os.close(inside)
    watch = threading.Timer(GENEROUS, process.kill)
    watch.start()
    shown = b""
    try:
        while got := _read(screen):
            shown += got
        out = process.stdout.read() if process.stdout else b""
        assert process.wait() == 0
    finally:
        watch.cancel()
        process.kill()
        os.close(screen)
    assert b"3 of 3" in shown
    assert out.startswith(b"3 results: 3 proven.")


def _read(screen: int) -> bytes:
    try:
        return os.read(screen, 4096)
    except OSError:  # Linux: the other end is closed
        return b""
