"""`--log`: one line for every run, however it ends, and never in a file that is something else."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import typer
from tests.cli.process import EXAMPLE, FAST, reaccord, run_python

from reaccord.cli.app import app_of

COMMANDS = typer.main.get_command(app_of()).commands  # type: ignore[attr-defined]

STUDY = EXAMPLE / "study.toml"
BROKEN = """
import reaccord.study.load as room
def reads(path, *more):
    raise ZeroDivisionError("on purpose")
room.load_study = reads
from reaccord.cli.main import run
run()
"""
PRESSED = """
import os, signal
import reaccord.study.load as room
room.load_study = lambda path, *more: os.kill(os.getpid(), signal.SIGINT)
from reaccord.cli.main import run
run()
"""


def lines(log: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]


def test_a_line_for_every_ending(tmp_path: Path, study: Path) -> None:
    log = tmp_path / "log"
    bad = tmp_path / "bad.toml"
    (tmp_path / "empty").mkdir()
    bad.write_text("[bath]", encoding="utf-8")
    words: list[tuple[int, str, tuple[str | Path, ...]]] = [
        (3, "there is no such file", ("check", tmp_path / "none.toml")),
        (2, "holds 2 study files: candle.toml, study.toml", ("fit", study.parent)),
        (3, "holds no study file", ("fit", tmp_path / "empty")),
        (3, "no such section is known", ("fit", bad)),
        (3, "there is no such file", ("compare", study, tmp_path / "none.csv")),
        (2, "--seconds must be above 0", ("fit", study, "--seconds", "0")),
        (2, "--output takes table, json or csv", ("check", study, "--output", "xml")),
        (2, "nothing is written as .xlsx", ("check", study, "--out", "g.xlsx")),
        (2, "is an input of this study", ("check", study, "--out", study.parent / "bottles.csv")),
        (2, "--within", ("cheapest", study, "--within", "near")),
        (2, "not empty", ("new", study.parent)),
    ]
    for code, said, command in words:
        assert reaccord(*command, "--log", log).code == code, command
        last = lines(log)[-1]
        assert (last["command"], last["exit_code"], last["status"]) == (command[0], code, "invalid_input")
        assert last["study"] == str(command[1])
        assert said in last["errors"][0]
    run_python("-c", BROKEN, "check", study, "--log", log)
    run_python("-c", PRESSED, "check", study, "--log", log)
    assert len(lines(log)) == len(words) + 2
    assert [(line["exit_code"], line["errors"]) for line in lines(log)[-2:]] == [
        (1, ["A fault of ours: ZeroDivisionError: on purpose"]),
        (130, ["Interrupted."]),
    ]


@pytest.mark.parametrize("content", ["my notes\n", '{"schema": 1}\n', "[1]\n", "{\n", "\n"])
def test_what_is_no_log_is_left_alone(tmp_path: Path, content: str) -> None:
    log = tmp_path / "runs.jsonl"
    log.write_text(content, encoding="utf-8")
    for study in (STUDY, tmp_path / "none.toml"):
        ended = reaccord("check", study, "--log", log)
        assert (ended.code, ended.out) == (2, "")
        assert ended.err == f"{log} is there already and is no log of runs; name another file.\n"
    assert log.read_text(encoding="utf-8") == content


@pytest.mark.parametrize("name", ["r.toml", "r.csv", "r.TSV", "r.xlsx"])
def test_a_log_is_no_table(tmp_path: Path, name: str) -> None:
    ended = reaccord("check", STUDY, "--log", name, cwd=tmp_path)
    assert ended.err == f"--log {name}: a log holds lines of JSON, not a table; name it runs.jsonl.\n"
    assert not list(tmp_path.iterdir())


def test_a_line_cut_short_spoils_no_other(tmp_path: Path) -> None:
    log = tmp_path / "log"
    reaccord("check", STUDY, "--quiet", "--log", log)
    with log.open("a", encoding="utf-8") as stream:
        stream.write('{"time": "2026-')
    reaccord("check", STUDY, "--quiet", "--log", log)
    first, cut, last = log.read_text(encoding="utf-8").splitlines()
    assert (json.loads(first)["status"], cut, json.loads(last)["status"]) == ("done", '{"time": "2026-', "done")


def test_a_log_that_cannot_be_kept_is_said_first(tmp_path: Path) -> None:
    (tmp_path / "loop").symlink_to("loop")
    for name, said in (
        ("none/log", "there is no folder none."),
        (".", ". is a folder; an output needs a file name."),
        ("-", '"-" is no file name'),
        ("loop", "cannot write loop: "),
        ("x" * 300, "File name too long."),
    ):
        ended = reaccord("check", "none.toml", "--log", name, "--out", "a.txt", cwd=tmp_path)
        assert (ended.code, ended.out) == (2, "")
        assert said in ended.err


def test_every_command_keeps_its_record(tmp_path: Path) -> None:
    """Whatever a command returns can be noted, and what is of a formula keeps it."""
    log, begun, formula = tmp_path / "runs.jsonl", tmp_path / "begun", tmp_path / "f.csv"
    study = begun / "study.toml"
    assert reaccord("new", begun, "--log", log).code == 0
    assert reaccord("fit", study, "--output", "csv", "--out", formula, "--log", log, "--quiet").code == 0
    poured = formula.read_text(encoding="utf-8").splitlines()[1].split(",")[0]
    words: dict[str, tuple[str | Path, ...]] = {
        "check": (study,),
        "compare": (study, formula),
        "cheapest": (study, "--within", "10 %"),
        "frontier": (study, "--points", "3"),
        "sourcing": (study, "--most", "1"),
        "alternatives": (study, "--within", "20 %"),
        "revise": (study, formula, "--changes", "2"),
        "origins": (study, "lot A", "lot A"),
        "spread": (study, "--formula", formula, "--draws", "10"),
        "many": (begun, "--out", tmp_path / "many.jsonl"),
        "weigh": (study, "--formula", formula),
        "correct": (study, "--formula", formula, "--poured", f"{poured}=1"),
        "overdose": (study, "--formula", formula, "--of", "linalool", "--times", "1,2"),
        "blind": (study, "--formula", formula, "--key", tmp_path / "key.csv"),
        "dosage": (study, "--formula", formula),
        "report": (study, "--formula", formula, "--out", tmp_path / "page.html"),
        "verify-certificate": (tmp_path / "none.json",),
    }
    assert {"new", "fit", "history", "help", "desk", *words} == set(COMMANDS)
    searches = {"cheapest", "frontier", "sourcing", "alternatives", "revise", "origins", "correct"}
    for command, given in words.items():
        ended = reaccord(command, *given, "--log", log, *(FAST if command in searches else ()))
        last = lines(log)[-1]
        assert (last["command"], last["exit_code"]) == (command, ended.code), (command, ended.err)
    noted = {line["command"]: line for line in lines(log)}
    of_a_formula = {"fit", "compare", "cheapest", "revise", "weigh", "correct", "overdose", "blind", "dosage", "report"}
    assert {command for command, line in noted.items() if line.get("formula")} >= of_a_formula
    assert all("\n" not in line.get("verdict", "") for line in noted.values())
    assert all(noted[command]["inputs"] for command in of_a_formula)
