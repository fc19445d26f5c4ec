"""How a run ends when stdout cannot be written, a stream is closed, or somebody presses Ctrl-C early."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import IO, Any

import pytest
from tests.cli.process import EXAMPLE, FAST, GENEROUS, environment, reaccord, read_json, run_python
from tests.seeds import drawn
from tests.unit.questions.many_helpers import several
from tests.unit.questions.many_helpers import study as small

STUDY = EXAMPLE / "study.toml"
FULL = Path("/dev/full")
"""Linux: writing to it says that the disk is full."""
FOLDER_OF_SCRIPTS = Path(sys.executable).parent

PRESSED_WHILE_IMPORTED = """
import os, signal, sys
class Slow:
    def find_spec(self, name, path=None, target=None):
        if name == sys.argv[1]:
            sys.meta_path.remove(self)
            os.kill(os.getpid(), getattr(signal, sys.argv[2]))
        return None
sys.meta_path.insert(0, Slow())
from reaccord.cli.main import run
run(sys.argv[3:])
"""
IMPORT_THAT_SAYS_SOMETHING_ELSE = """
import os, signal, sys
import reaccord.study.load as room
def reads(path, *more):
    try:
        os.kill(os.getpid(), signal.SIGINT)
    except KeyboardInterrupt:
        raise ImportError("the library is broken") from None
room.load_study = reads
from reaccord.cli.main import run
run()
"""
PRESSED_WHILE_A_LOCK_IS_COLLECTED = """
import os, signal, sys, weakref
class Lock:
    pass
class Slow:
    def find_spec(self, name, path=None, target=None):
        if name == sys.argv[1]:
            sys.meta_path.remove(self)
            lock = Lock()
            watch = weakref.ref(lock, lambda _: os.kill(os.getpid(), getattr(signal, sys.argv[2])))
            del lock
        return None
sys.meta_path.insert(0, Slow())
from reaccord.cli.main import run
run(sys.argv[3:])
"""
PRESSED_WHILE_PRINTED = """
import os, signal, sys
import reaccord.cli.result as room
def tells(text):
    os.kill(os.getpid(), getattr(signal, sys.argv[1]))
room.tell = tells
from reaccord.cli.main import run
run(sys.argv[2:])
"""
PRESSED_WHILE_SEARCHED = """
import os, signal, sys
from dataclasses import replace
import reaccord.answer.fit
room = sys.modules["reaccord.answer.fit"]
honest = room.solve
def cut(programme, budget):
    os.kill(os.getpid(), getattr(signal, sys.argv[1]))
    assert budget.stop()
    return replace(honest(programme, replace(budget, stop=lambda: False)), status="feasible")
room.solve = cut
from reaccord.cli.main import run
run(sys.argv[2:])
"""
PRESSED_AFTER_THE_RESULT = """
import os, signal, sys
import reaccord.cli.running as room
honest = room.log_result
def logs(*about):
    os.kill(os.getpid(), signal.SIGINT)
    honest(*about)
room.log_result = logs
from reaccord.cli.main import run
run()
"""
PRESSED_WHILE_IGNORED = """
import os, signal, sys
signal.signal(signal.SIGINT, signal.SIG_IGN)
import reaccord.study.load as room
honest = room.load_study
def reads(path, *more):
    os.kill(os.getpid(), signal.SIGINT)
    return honest(path, *more)
room.load_study = reads
from reaccord.cli.main import run
run()
"""


def to(stdout: int | IO[Any], *words: str | Path) -> tuple[int, str]:
    """Run with stdout going there; return the code and what stderr got."""
    process = subprocess.Popen(
        [sys.executable, "-m", "reaccord", *map(str, words)],
        stdout=stdout,
        stderr=subprocess.PIPE,
        env=environment(),
        text=True,
    )
    _, err = process.communicate(timeout=GENEROUS)
    return process.returncode, err


def in_a_shell(line: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    path = f"{FOLDER_OF_SCRIPTS}{os.pathsep}{os.environ['PATH']}"
    return subprocess.run(
        ["bash", "-c", line], env=environment(PATH=path), cwd=cwd, capture_output=True, encoding="utf-8", check=False
    )


@pytest.mark.parametrize("out", [(), ("--out", "a.json")])
def test_ctrl_c_after_the_result_changes_nothing_of_it(out: tuple[str, ...], tmp_path: Path) -> None:
    where = ("--out", str(tmp_path / "a.json")) if out else ()
    words = ("check", str(STUDY), "--output", "json", "--log", str(tmp_path / "log"), *where)
    ended = run_python("-c", PRESSED_AFTER_THE_RESULT, *words)
    printed = (tmp_path / "a.json").read_text(encoding="utf-8") if out else ended.out
    assert (ended.code, read_json(printed)["exit_code"]) == (0, 0)
    assert json.loads((tmp_path / "log").read_text(encoding="utf-8"))["exit_code"] == 0


@pytest.mark.skipif(not FULL.exists(), reason="needs /dev/full")
@pytest.mark.parametrize(
    "words",
    [("check", STUDY, "--quiet"), ("check", STUDY, "--output", "json"), ("--help",), ("fit", "--help"), ("--version",)],
)
def test_a_full_disk_is_said_in_a_sentence(words: tuple[str, ...]) -> None:
    with FULL.open("w") as full:
        assert to(full, *words) == (1, "cannot write to stdout: No space left on device.\n")


@pytest.mark.skipif(not FULL.exists(), reason="needs /dev/full")
def test_a_failure_whose_json_finds_no_place(tmp_path: Path) -> None:
    log = tmp_path / "log"
    with FULL.open("w") as full:
        code, err = to(full, "check", tmp_path / "none.toml", "--output", "json")
        assert (code, err) == (1, "cannot write to stdout: No space left on device.\n")
        to(full, "check", STUDY, "--quiet", "--log", log)
    line = json.loads(log.read_text(encoding="utf-8"))
    assert (line["status"], line["exit_code"]) == ("failed", 1)


@pytest.mark.parametrize("words", ["check {} --quiet", "check {} --output json", "--help", "--version"])
def test_a_closed_stdout_is_said_in_a_sentence(words: str) -> None:
    ended = in_a_shell(f"reaccord {words.format(STUDY)} >&-")
    assert (ended.returncode, ended.stderr) == (1, "cannot write to stdout: it is closed.\n")


def test_with_a_result_file_nobody_needs_stdout(tmp_path: Path) -> None:
    ended = in_a_shell(f"reaccord check {STUDY} --out a.json >&- 2>&- <&-", tmp_path)
    assert ended.returncode == 0
    assert read_json((tmp_path / "a.json").read_text(encoding="utf-8"))["status"] == "done"


def test_a_closed_stderr_changes_nothing_on_stdout() -> None:
    for words, code in ((f"check {STUDY}", 0), ("check none.toml", 3), ("fit", 2)):
        closed, open_ = in_a_shell(f"reaccord {words} 2>&-"), reaccord(*words.split())
        assert (closed.returncode, closed.stdout) == (code, open_.out)


def test_no_file_takes_the_number_of_a_closed_stream(tmp_path: Path) -> None:
    """What compiled code prints would land in it."""
    script = """
import os, sys
import reaccord.study.load as room
honest = room.load_study
def reads(path, *more):
    assert open(path).fileno() > 2
    os.write(1, b"from a library"), os.write(2, b"from a library")
    return honest(path, *more)
room.load_study = reads
from reaccord.cli.main import run
run()
"""
    (tmp_path / "script.py").write_text(script, encoding="utf-8")
    ended = in_a_shell(f"{sys.executable} script.py check {STUDY} --out a.txt --log log <&- >&- 2>&-", tmp_path)
    assert ended.returncode == 0
    assert "library" not in (tmp_path / "a.txt").read_text(encoding="utf-8") + (tmp_path / "log").read_text()


@pytest.mark.parametrize("words", [f"check {STUDY} --output json", "--help", "--version", f"check {STUDY} 2>&1"])
def test_a_reader_who_goes_early_is_no_fault(words: str) -> None:
    reader = "head -1" if "2>&1" in words else "true"
    ended = in_a_shell(f'reaccord {words} | {reader}; exit "${{PIPESTATUS[0]}}"')
    assert (ended.returncode, re.sub(r"^warning: .*\n", "", ended.stderr)) == (0, "")


def test_no_words_show_the_help_once() -> None:
    ended = reaccord()
    assert (ended.code, ended.err.count("Usage:")) == (2, 1)


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM"])
@pytest.mark.parametrize(
    "module", ["typer", "reaccord.cli.app", "reaccord.cli.fit", "numpy", "reaccord.report.terminal"]
)
def test_a_press_while_it_is_imported_is_answered(name: str, module: str) -> None:
    if name == "SIGTERM":  # the form and the signal have nothing to do with each other: one of each pair
        plain = run_python("-c", PRESSED_WHILE_IMPORTED, module, name, "fit", STUDY)
        assert (plain.code, plain.out, plain.err) == (130, "", "Interrupted.\n")
        return
    ended = run_python("-c", PRESSED_WHILE_IMPORTED, module, name, "fit", STUDY, "--output", "json")
    assert (ended.code, ended.err) == (130, "")
    assert (ended.json["command"], ended.json["exit_code"], ended.json["status"]) == ("fit", 130, "no_answer")
    assert ended.json["errors"][0]["code"] == "interrupted"


def test_an_import_that_makes_something_else_of_a_press() -> None:
    ended = run_python("-c", IMPORT_THAT_SAYS_SOMETHING_ELSE, "check", STUDY)
    assert (ended.code, ended.out, ended.err) == (130, "", "Interrupted.\n")


def test_a_press_that_the_caller_has_ignored_stays_ignored() -> None:
    """As under `nohup`, or behind `&` in a script."""
    ended = run_python("-c", PRESSED_WHILE_IGNORED, "check", STUDY, "--quiet")
    assert (ended.code, ended.err) == (0, "")


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM"])
def test_a_search_ends_at_either_signal_and_says_so(name: str, tmp_path: Path) -> None:
    path = small(tmp_path, "s")
    if name == "SIGINT":  # the words and the signal have nothing to do with each other
        ended = run_python("-c", PRESSED_WHILE_SEARCHED, name, "fit", path, "--quiet")
        assert (ended.code, ended.err) == (130, ""), "quiet"
        assert "\nPour" in ended.out
        told = run_python("-c", PRESSED_WHILE_SEARCHED, name, "fit", path)
        assert told.err.startswith(
            "warning: Interrupted: this is the best that was found until then, and not proven.\n"
        )
    as_json = run_python("-c", PRESSED_WHILE_SEARCHED, name, "fit", path, "--output", "json")
    assert as_json.json["warnings"][0]["code"] == "interrupted"
    assert (as_json.code, as_json.json["status"], as_json.err) == (130, "feasible", "")


@pytest.mark.parametrize("name", drawn("SIGINT", "SIGTERM"))
@pytest.mark.parametrize("room", ["reaccord.cli.running", "reaccord.tables.read", "numpy"])
def test_ctrl_c_that_python_cannot_raise_is_heeded_all_the_same(room: str, name: str, tmp_path: Path) -> None:
    """While the lock of an import is collected, say: what is raised there is only printed."""
    ended = run_python("-c", PRESSED_WHILE_A_LOCK_IS_COLLECTED, room, name, "fit", small(tmp_path, "s"))
    assert (ended.code, ended.out, ended.err) == (130, "", "Interrupted.\n")


def test_ctrl_c_before_anything_listens_is_remembered() -> None:
    """The import of the room that hears it is cut short by Python's own KeyboardInterrupt."""
    ended = run_python("-c", PRESSED_WHILE_IMPORTED, "reaccord.cli.signals", "SIGINT", "check", STUDY)
    assert (ended.code, ended.out, ended.err) == (130, "", "Interrupted.\n")


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM"])
def test_ctrl_c_while_a_result_is_printed_ends_by_exit_code(name: str) -> None:
    ended = run_python("-c", PRESSED_WHILE_PRINTED, name, "check", STUDY, "--quiet")
    assert (ended.code, ended.err) == (130, "")


@pytest.mark.parametrize(("press", "waits"), [(signal.SIGINT, (0.5, 0.8, 1.1)), (signal.SIGTERM, (0.8,))])
def test_processes_that_are_just_starting_say_nothing(
    tmp_path: Path, press: signal.Signals, waits: tuple[float, ...]
) -> None:
    """A terminal sends Ctrl-C to all of them at once."""
    paths = several(tmp_path, 4)
    for wait in waits:
        process = subprocess.Popen(
            [sys.executable, "-m", "reaccord", "many", *map(str, paths), "--output", "json"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=environment(),
            text=True,
            start_new_session=True,
        )
        time.sleep(wait)
        os.killpg(process.pid, press)
        out, err = process.communicate(timeout=GENEROUS)
        found = read_json(out)
        assert err == ""
        # once the result is out, a signal ends the process as it ends any
        assert process.returncode in {found["exit_code"], -press}
        assert found["status"] in {"proven", "no_answer"}


def test_the_first_formula_wins_over_fast(tmp_path: Path) -> None:
    """A run that ends by itself says nothing of interrupts."""
    assert "nterrupted" not in reaccord("fit", STUDY, *FAST, "--out", tmp_path / "a.txt").err
