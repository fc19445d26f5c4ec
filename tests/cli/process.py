"""What a person or a script gets from `reaccord`: called in this process, or as a process of its own."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import warnings
from collections.abc import Iterator, Mapping
from contextlib import chdir, contextmanager
from dataclasses import dataclass
from io import BytesIO, TextIOWrapper
from pathlib import Path
from typing import Any
from unittest.mock import patch

from reaccord.cli.running import run_words
from reaccord.cli.signals import ENDING

EXAMPLE = Path(__file__).parents[2] / "examples" / "geranium"
GENEROUS = 300
"""Seconds after which a process counts as hung; no test measures time."""
FAST = ("--gap", "0.2", "--quiet")
"""For tests that look at files and streams, not at how close the formula is."""
SILENT = (DeprecationWarning, PendingDeprecationWarning, ResourceWarning, ImportWarning)
"""What Python says to nobody who only runs a program."""


@dataclass(frozen=True)
class Ended:
    """A run that has ended."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> dict[str, Any]:
        """Return the envelope; fails on anything beside it, and on NaN or infinity."""
        return read_json(self.out)


def read_json(text: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(text, parse_constant=_refuse)
    assert set(found) == {"schema", "command", "status", "exit_code", "data", "errors", "warnings"}
    assert found["schema"] == 2
    for finding in (*found["errors"], *found["warnings"]):
        assert set(finding) == {"code", "message", "file", "row", "column"}
    return found


def _refuse(word: str) -> None:
    raise AssertionError(f"{word} is no JSON")


def environment(**more: str) -> dict[str, str]:
    """Return an environment in which nothing outside changes what is printed."""
    kept = {k: v for k, v in os.environ.items() if k not in {"FORCE_COLOR", "NO_COLOR", "COLUMNS", "PYTHONIOENCODING"}}
    return kept | more


def reaccord(*words: str | Path, cwd: Path | None = None) -> Ended:
    """Run a command line to its end in this process, which has everything imported already.

    What only a process of its own has (its start, its real streams, signals) needs `reaccord_process`.
    """
    streams = [TextIOWrapper(BytesIO(), encoding="utf-8", write_through=True) for _ in range(2)]
    with _as_a_process(*streams), chdir(cwd or Path.cwd()):
        code = run_words([str(word) for word in words])
    if code == 128 + signal.SIGINT:
        raise KeyboardInterrupt  # it was the tests that were to end
    out, err = (stream.buffer.getvalue().decode() for stream in streams)
    return _sound(Ended(code, out, err))


@contextmanager
def _as_a_process(out: TextIOWrapper, err: TextIOWrapper) -> Iterator[None]:
    """Lend these streams and a process's environment, take back what a run does to signals."""
    before = {number: signal.getsignal(number) for number in ENDING}
    with (
        patch.object(sys, "stdout", out),
        patch.object(sys, "stderr", err),
        patch.dict(os.environ, environment(), clear=True),
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("error")  # it would stand on stderr, among our words
        for kind in SILENT:
            warnings.simplefilter("ignore", kind)
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)


def reaccord_process(*words: str | Path, cwd: Path | None = None, env: Mapping[str, str] | None = None) -> Ended:
    """Run the command line to its end as a process of its own."""
    return run_python("-m", "reaccord", *words, cwd=cwd, env=env)


def run_python(*words: str | Path, cwd: Path | None = None, env: Mapping[str, str] | None = None) -> Ended:
    ended = subprocess.run(
        [sys.executable, *map(str, words)],
        cwd=cwd,
        env=environment(**(env or {})),
        capture_output=True,
        encoding="utf-8",
        timeout=GENEROUS,
        check=False,
    )
    return _sound(Ended(ended.returncode, ended.stdout, ended.stderr))


def _sound(ended: Ended) -> Ended:
    assert ended.code == 1 or "Traceback" not in ended.err, ended.err
    return ended
