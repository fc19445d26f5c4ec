"""A page's commands run one after the other, and what it shows of their output found in the real one."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from tests.cli.process import GENEROUS, environment
from tests.docs.papers import fenced

from reaccord.cli.app import app_of
from reaccord.cli.result import Result

DOTS = "..."
"""A line of its own in a block: something is left out here."""


@dataclass(frozen=True)
class Ran:
    """A block of commands that was run: its lines, what the page shows of their output, how it ended."""

    commands: str
    shown: str
    out: str
    code: int


def in_a_shell(lines: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    """Run lines as printed, stderr among stdout as a terminal shows it; `reaccord` is the one beside this Python."""
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    return subprocess.run(
        ["bash", "-euo", "pipefail", "-c", lines],
        cwd=cwd,
        env=environment(PATH=path),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        timeout=GENEROUS,
        check=False,
    )


def called(line: str) -> Result:
    """Return the result of a command line as printed, in this process."""
    name, *words = shlex.split(line)
    assert name == "reaccord", line
    call = app_of()(words, prog_name=name, standalone_mode=False)
    result: Result = call.run(call.options())
    return result


def run_all(words: str, cwd: Path) -> Iterator[Ran]:
    """Run every block of commands; the block behind one, if it is of no language, is what that one prints."""
    found = [*fenced(words), ("", "")]
    for (kind, lines), (after, shown) in pairwise(found):
        if kind == "bash":
            ended = in_a_shell(lines, cwd)
            yield Ran(lines, "" if after else shown, ended.stdout, ended.returncode)


def steady(words: str) -> list[str]:
    """Return lines without what differs between days and processors: dates, the third digit and those behind it."""
    plain = re.sub(r"\(\d{4}-\d\d-\d\d\)", "(day)", words)
    plain = re.sub(r"within [\d.e-]+ %", "within ~ %", plain)
    short = re.sub(r"(?<=\d\.\d\d)\d+", "", plain)
    return [" ".join(line.split()) for line in short.splitlines()]


def missing(shown: str, out: str) -> list[str]:
    """Return the first run of shown lines that is not in the output behind those before it; none if all are."""
    real, start = steady(out), 0
    for run in _runs(steady(shown)):
        size = len(run)
        at = next((i for i in range(start, len(real) - size + 1) if real[i : i + size] == run), None)
        if at is None:
            return run
        start = at + size
    return []


def _runs(lines: list[str]) -> Iterator[list[str]]:
    """Yield the lines between dots."""
    run: list[str] = []
    for line in [*lines, DOTS]:
        if line != DOTS:
            run.append(line)
        elif run:
            yield run
            run = []
