"""What goes to a pipe, to a terminal, and to a reader who has gone away."""

from __future__ import annotations

import fcntl
import os
import pty
import struct
import subprocess
import sys
import termios
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.process import EXAMPLE, FAST, GENEROUS, environment, reaccord, reaccord_process, run_python

STUDY = EXAMPLE / "study.toml"
ESCAPE = "\033"


def on_a_terminal(width: int, *words: str | Path, **env: str) -> str:
    """Return what a terminal of that width shows; fails unless the command ends well."""
    screen, inside = pty.openpty()
    fcntl.ioctl(inside, termios.TIOCSWINSZ, struct.pack("HHHH", 40, width, 0, 0))
    process = subprocess.Popen(
        [sys.executable, "-m", "reaccord", *map(str, words)],
        stdin=inside,
        stdout=inside,
        stderr=inside,
        env=environment(TERM="xterm-256color", **env),
    )
    os.close(inside)
    watch = threading.Timer(GENEROUS, process.kill)
    watch.start()
    shown = b""
    try:
        while True:
            try:
                got = os.read(screen, 4096)
            except OSError:  # Linux: the other end is closed
                break
            if not got:
                break
            shown += got
        assert process.wait() == 0
    finally:
        watch.cancel()
        process.kill()
        os.close(screen)
    return shown.decode().replace("\r\n", "\n")


def test_no_escape_codes_in_a_pipe() -> None:
    ended = reaccord_process("compare", STUDY, EXAMPLE / "formula_2025.csv", env={"FORCE_COLOR": "1"})
    assert ended.out.startswith("Garden geranium")
    assert ESCAPE not in ended.out + ended.err


def test_no_color_on_a_terminal() -> None:
    shown = on_a_terminal(100, "compare", STUDY, EXAMPLE / "formula_2025.csv", NO_COLOR="1")
    assert ESCAPE not in shown


@pytest.mark.parametrize("width", [1, 60])
def test_any_width_shows_every_number(width: int) -> None:
    shown = on_a_terminal(width, "compare", STUDY, EXAMPLE / "formula_2025.csv", "--quiet")
    for line in (EXAMPLE / "formula_2025.csv").read_text(encoding="utf-8").splitlines()[1:]:
        gram = f"{float(line.split(',')[4]):.3f}"
        assert f" {gram} " in shown, "a number is never cut"
    if width >= 60:
        assert max(map(len, shown.splitlines())) <= width


def test_warnings_go_to_stderr_and_quiet_silences_them() -> None:
    loud = reaccord("check", STUDY)
    assert (loud.code, loud.err.count("\n")) == (0, 1)
    assert loud.err.startswith("warning: bottles.csv, row 20, column opened: ")
    assert "past its date" not in loud.out
    quiet = reaccord("check", STUDY, "--quiet")
    assert (quiet.out, quiet.err) == (loud.out, "")


def test_quiet_does_not_silence_errors() -> None:
    ended = reaccord("fit", EXAMPLE / "none.toml", "--quiet")
    assert (ended.code, ended.out) == (3, "")
    assert "there is no such file" in ended.err


@pytest.mark.parametrize("words", [("--output", "json"), ()])
def test_a_reader_who_has_gone_away_sees_no_traceback(words: tuple[str, ...], tmp_path: Path) -> None:
    """As `| head`, but with nobody there from the start."""
    reader, writer = os.pipe()
    os.close(reader)
    log = tmp_path / "log"
    process = subprocess.Popen(
        [sys.executable, "-m", "reaccord", "fit", str(STUDY), *words, *FAST, "--log", str(log)],
        stdout=writer,
        stderr=subprocess.PIPE,
        env=environment(),
    )
    os.close(writer)
    _, err = process.communicate(timeout=GENEROUS)
    assert err == b""
    assert process.returncode == 0, "the search went well; who reads it is not our business"
    assert log.read_text(encoding="utf-8").count("\n") == 1


def test_nobody_reads_either_stream() -> None:
    reader, writer = os.pipe()
    os.close(reader)
    for words in (("fit", str(EXAMPLE / "none.toml")), ("check", str(STUDY))):
        process = subprocess.Popen(
            [sys.executable, "-m", "reaccord", *words], stdout=writer, stderr=writer, env=environment()
        )
        assert process.wait(GENEROUS) == (3 if words[0] == "fit" else 0)
    os.close(writer)


def test_names_of_any_script_line_up(study: Path) -> None:
    """A Chinese character takes two cells of a terminal (Unicode Standard Annex 11, East Asian width W)."""
    for name in ("bottles.csv", "compositions.csv", "formula_2025.csv"):
        table = study.parent / name
        table.write_text(table.read_text(encoding="utf-8").replace("Geraniol 97", "天竺葵醇 97"), encoding="utf-8")
    out = reaccord("compare", study, study.parent / "formula_2025.csv", "--quiet").out
    lines = {line.split("  ")[0]: line for line in out.splitlines()}
    wide, other = lines["天竺葵醇 97"], lines["Linalool 97"]
    assert other.index("0.560") - wide.index("0.360") == 4


def test_a_table_cannot_steer_the_terminal(study: Path) -> None:
    for name in ("bottles.csv", "formula_2025.csv"):
        table = study.parent / name
        table.write_text(table.read_text(encoding="utf-8").replace("GE-12", "GE\033[31m12"), encoding="utf-8")
    ended = reaccord("compare", study, study.parent / "formula_2025.csv")
    assert ESCAPE not in ended.out + ended.err


def test_help_and_version_need_no_numpy() -> None:
    script = """
import sys
from reaccord.cli import main
try:
    main.run(sys.argv[1:])
except SystemExit as end:
    heavy = {"numpy", "pandas", "scipy", "cvxpy", "rich.table"} & set(sys.modules)
    print(sorted(heavy), end.code)
"""
    for words in (["--help"], ["fit", "--help"], ["--version"]):
        assert run_python("-c", script, *words).out.splitlines()[-1] == "[] 0"


def test_a_small_fit_needs_none_of_what_loads_longest(study: Path) -> None:
    script = """
import sys
from reaccord.cli import main
try:
    main.run(["fit", sys.argv[1], "--out", sys.argv[2]])
except SystemExit as end:
    heavy = {"scipy", "pandas", "cvxpy", "openpyxl", "jinja2", "pydantic", "matplotlib", "rich.console"}
    heavy |= {"reaccord.report.residual_picture", "reaccord.cli.compare", "reaccord.cli.many"}
    heavy &= set(sys.modules)
    print(sorted(heavy), end.code)
"""
    out = study.parent / "formula.json"
    assert run_python("-c", script, str(study), str(out)).out.splitlines()[-1] == "[] 0"


def test_the_installed_script_is_the_same_program() -> None:
    script = Path(sys.executable).with_name("reaccord")
    ended = subprocess.run([script, "--help"], capture_output=True, text=True, check=True, env=environment())
    assert ended.stdout == reaccord_process("--help").out


def test_findings_are_for_people(changed: Callable[[str, str], Path]) -> None:
    ended = reaccord("check", changed("rest = ", "rset = "), "--output", "csv")
    assert (ended.code, ended.out) == (3, "")
    assert ended.err.startswith('study.toml, target.rset: no such key is known. Did you mean "rest"?')
