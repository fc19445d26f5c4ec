"""Every exit code of the README; what a signal or a broken solver does, from a process of its own."""

from __future__ import annotations

import json
import os
import pty
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import replace
from importlib import import_module
from pathlib import Path

import pytest
from tests.cli.process import EXAMPLE, FAST, GENEROUS, Ended, environment, reaccord, read_json, run_python
from tests.unit.questions.many_helpers import study as small

from reaccord.cli import progress
from reaccord.contract import Answer, Budget, Programme

STUDY = EXAMPLE / "study.toml"
FIT = import_module("reaccord.answer.fit")
LARGE = ("--gap", "0", "--output", "json")

NOTHING_UNTIL_STOPPED = """
import math, os, signal, sys, time
import reaccord.answer.fit
from reaccord.contract import Answer
from reaccord.cli import main
def waits(programme, budget):
    os.kill(os.getpid(), signal.SIGINT)
    while not budget.stop():
        time.sleep(0.01)
    return Answer("no_answer", None, math.inf, 0.0, "none", (), 0.0, 0)
sys.modules["reaccord.answer.fit"].solve = waits
main.run()
"""
PRESSED_TWICE = """
import os, signal, sys, time
import reaccord.answer.fit
from reaccord.cli import main
def deaf(programme, budget):
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(0.1)
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(60)
sys.modules["reaccord.answer.fit"].solve = deaf
main.run()
"""
STOPPED_WITH_A_FORMULA = """
import os, signal, sys, time
from dataclasses import replace
import reaccord.answer.fit
from reaccord.cli import main
room = sys.modules["reaccord.answer.fit"]
honest = room.solve
def cut(programme, budget):
    found = honest(programme, budget)
    os.kill(os.getpid(), signal.SIGINT)
    while not budget.stop():
        time.sleep(0.01)
    return replace(found, status="feasible", bound=0.5 * found.value)
room.solve = cut
main.run()
"""
STOPPED_WHILE_READING = """
import os, signal, time
import reaccord.study.load as room
from reaccord.cli import main
def reads(path, *more):
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(60)
room.load_study = reads
main.run()
"""


def test_0_when_proven_with_warnings_or_not(fitted: Ended, candle: Ended) -> None:
    assert (fitted.code, fitted.json["status"], len(fitted.json["warnings"])) == (0, "proven", 1)
    assert (candle.code, candle.json["status"], len(candle.json["warnings"])) == (0, "proven", 2)


def test_1_for_a_fault_of_ours(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(programme: Programme, budget: Budget) -> Answer:
        raise ZeroDivisionError("on purpose")

    monkeypatch.setattr(FIT, "solve", broken)
    ended = reaccord("fit", STUDY, "--output", "json")
    assert (ended.code, ended.json["exit_code"], ended.json["status"]) == (1, 1, "failed")
    assert ended.json["errors"][0]["message"] == "A fault of ours: ZeroDivisionError: on purpose"
    plain = reaccord("fit", STUDY)
    assert (plain.code, plain.out) == (1, "")
    assert "Traceback" in plain.err, "for the report"
    assert plain.err.rstrip().endswith("A fault of ours: ZeroDivisionError: on purpose")


def test_1_for_a_solver_whose_word_does_not_stand_up(monkeypatch: pytest.MonkeyPatch) -> None:
    honest = FIT.solve

    def lying(programme: Programme, budget: Budget) -> Answer:
        answer = honest(programme, budget)
        return replace(answer, value=0.9 * answer.value, bound=0.0)

    monkeypatch.setattr(FIT, "solve", lying)
    ended = reaccord("fit", STUDY, "--output", "json", *FAST)
    assert (ended.code, ended.json["exit_code"], ended.json["status"]) == (1, 1, "failed")
    assert "the judge finds a deviation of" in ended.json["errors"][0]["message"]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--gap", "1,250"), '--gap: "1,250" may be 1.250 or 1250: write which of them, without a comma.'),
        (("--seconds", "0"), "--seconds must be above 0, not 0."),
        (("--out", "."), "is a folder; an output needs a file name."),
        (("--nonsense",), "No such option: --nonsense"),
    ],
)
def test_2_for_words_it_cannot_take(words: tuple[str, ...], sentence: str) -> None:
    ended = reaccord("fit", STUDY, *words)
    assert (ended.code, ended.out) == (2, "")
    assert sentence in ended.err


def test_2_without_a_command_shows_the_commands() -> None:
    ended = reaccord()
    assert ended.code == 2
    assert "compare" in ended.out + ended.err


def test_3_when_there_is_no_such_study(tmp_path: Path) -> None:
    path = tmp_path / "none.toml"
    ended = reaccord("fit", path)
    assert (ended.code, ended.out) == (3, "")
    assert str(path) in ended.err
    assert "1 finding, nothing was solved." in ended.err


def test_4_names_the_limits_in_conflict(changed: Callable[[str, str], Path]) -> None:
    changed("cost_per_kg = 155", "cost_per_kg = 60")
    study = changed("at_least_g = 1", "at_least_g = 4.5")
    ended = reaccord("fit", study, "--output", "json")
    envelope = ended.json
    assert (ended.code, envelope["exit_code"], envelope["status"], envelope["data"]) == (4, 4, "infeasible", {})
    (error,) = envelope["errors"]
    assert error["code"] == "no-formula"
    assert "cost at most 60.00 per kg" in error["message"]
    assert "Geranium base at least 4.5 g" in error["message"]
    assert "carrier" not in error["message"], "only what is in conflict"
    assert envelope["warnings"], "what was said of the tables is not lost"


def test_4_for_one_limit_alone(changed: Callable[[str, str], Path]) -> None:
    ended = reaccord("fit", changed("cost_per_kg = 155", "cost_per_kg = 2"))
    assert (ended.code, ended.out) == (4, "")
    assert "cost at most 2.00 per kg" in ended.err


def test_5_when_found_but_not_proven(large: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ended = reaccord("fit", large, *LARGE, "--seconds", "0.05")
    envelope = ended.json
    assert (ended.code, envelope["exit_code"], envelope["status"]) == (5, 5, "feasible")
    deviation = envelope["data"]["deviation"]
    assert 0 < deviation["bound"] < deviation["before_rounding"]
    assert 0 < deviation["gap"] < 1
    monkeypatch.setattr(progress, "PATIENCE", 0.0)
    told = reaccord("fit", large, "--gap", "0", "--seconds", "0.5")
    assert (told.code, told.err) == (5, ""), "no progress in a pipe"
    assert "closest found in the time given, nothing from these" in " ".join(told.out.split())


def test_6_when_nothing_is_found_in_time(changed: Callable[[str, str], Path]) -> None:
    study = changed('measure = "squares"', 'measure = "absolute"')
    ended = reaccord("fit", study, "--seconds", "0.000001", "--output", "json")
    envelope = ended.json
    assert (ended.code, envelope["exit_code"], envelope["status"], envelope["data"]) == (6, 6, "no_answer", {})
    assert "--seconds" in envelope["errors"][0]["message"]


def test_130_keeps_the_formula(large: Path) -> None:
    """Ctrl-C as soon as the progress line says that there is a formula."""
    screen, stderr = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "reaccord", "fit", str(large), *LARGE],
        stdout=subprocess.PIPE,
        stderr=stderr,
        env=environment(),
    )
    os.close(stderr)
    seen = b""
    watch = threading.Timer(GENEROUS, process.kill)
    watch.start()
    try:
        while b"closest so far" not in seen:
            seen += os.read(screen, 1024)
        process.send_signal(signal.SIGINT)
        with process.stdout as stdout:  # type: ignore[union-attr]
            out = stdout.read().decode()
        assert process.wait() == 130
    finally:
        watch.cancel()
        process.kill()
        os.close(screen)
    envelope = read_json(out)
    assert (envelope["exit_code"], envelope["status"]) == (130, "feasible")
    assert envelope["data"]["formula"]
    assert envelope["data"]["deviation"]["gap"] > 0
    assert all(row["held"] for row in envelope["data"]["limits"])


def test_130_says_in_every_form_that_it_was_interrupted(tmp_path: Path) -> None:
    path = small(tmp_path, "s")
    told = run_python("-c", STOPPED_WITH_A_FORMULA, "fit", path)
    assert told.code == 130
    assert "unnamed; interrupted, closest so far, " in " ".join(told.out.split("\n\n")[0].split())
    assert "warning: Interrupted:" in told.err
    envelope = run_python("-c", STOPPED_WITH_A_FORMULA, "fit", path, "--output", "json").json
    assert (envelope["exit_code"], envelope["status"]) == (130, "feasible")
    assert "interrupted" in {warning["code"] for warning in envelope["warnings"]}


@pytest.mark.parametrize("script", [NOTHING_UNTIL_STOPPED, PRESSED_TWICE, STOPPED_WHILE_READING])
def test_130_before_anything_is_found(script: str) -> None:
    ended = run_python("-c", script, "fit", STUDY, "--output", "json")
    envelope = ended.json
    assert (ended.code, envelope["exit_code"], envelope["status"], envelope["data"]) == (130, 130, "no_answer", {})
    assert envelope["errors"][0]["code"] == "interrupted"


def test_the_log_knows_every_ending(tmp_path: Path, changed: Callable[[str, str], Path]) -> None:
    log = tmp_path / "runs.jsonl"
    stopped = run_python("-c", NOTHING_UNTIL_STOPPED, "fit", STUDY, "--quiet", "--log", log)
    assert (stopped.code, stopped.out, stopped.err) == (130, "", "Interrupted before any formula was found.\n")
    reaccord("fit", changed("cost_per_kg = 155", "cost_per_kg = 2"), "--log", log)
    lines = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    assert [(line["status"], line["exit_code"]) for line in lines] == [("no_answer", 130), ("infeasible", 4)]
    assert "cost at most 2.00 per kg" in lines[1]["errors"][0]
