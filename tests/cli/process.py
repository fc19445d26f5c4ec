"""Real processes: what a person or a script gets from `python -m reaccord`."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

EXAMPLE = Path(__file__).parents[2] / "examples" / "geranium"
GENEROUS = 300
"""Seconds after which a process counts as hung; no test measures time."""
FAST = ("--gap", "0.2", "--quiet")
"""For tests that look at files and streams, not at how close the formula is."""


@dataclass(frozen=True)
class Ended:
    """A process that has ended."""

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
    assert found["schema"] == 1
    for finding in (*found["errors"], *found["warnings"]):
        assert set(finding) == {"code", "message", "file", "row", "column"}
    return found


def _refuse(word: str) -> None:
    raise AssertionError(f"{word} is no JSON")


def environment(**more: str) -> dict[str, str]:
    """Return an environment in which nothing outside changes what is printed."""
    kept = {k: v for k, v in os.environ.items() if k not in {"FORCE_COLOR", "NO_COLOR", "COLUMNS", "PYTHONIOENCODING"}}
    return kept | more


def reaccord(*words: str | Path, cwd: Path | None = None, env: Mapping[str, str] | None = None) -> Ended:
    """Run the command line to its end."""
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
    assert ended.returncode == 1 or "Traceback" not in ended.stderr, ended.stderr
    return Ended(ended.returncode, ended.stdout, ended.stderr)
