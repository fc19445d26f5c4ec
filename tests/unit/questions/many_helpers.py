"""Studies on disk and executors that misbehave. Worker processes import this module: functions stand at its top."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from tests import studies

from reaccord.questions.many import solved
from reaccord.questions.many.run import run_many

BAD = "material,constituent,purity\nGeraniol,geraniol,\nCitronellol,citronellol,100"
IMPOSSIBLE = {"limits": {"amount": [{"material": "Geraniol", "exactly_g": 500}]}}


def study(where: Path, name: str, geraniol: int = 60, **tables: Any) -> Path:
    """Write a study of two bottles into a folder of its own."""
    (where / name).mkdir()
    target = f"constituent,G1\ngeraniol,{geraniol}\ncitronellol,{100 - geraniol}"
    return studies.folder(where / name, **({"target": target} | tables))


def undated(where: Path, name: str) -> Path:
    path = study(where, name)
    text = path.read_text(encoding="utf-8")
    assert 'date = "2026-11-25"\n' in text
    path.write_text(text.replace('date = "2026-11-25"\n', ""), encoding="utf-8")
    return path


def several(where: Path, count: int) -> list[Path]:
    return [study(where, f"s{number}", 50 + number) for number in range(count)]


class AtOnce(Executor):
    """Does everything while it is submitted, and remembers what."""

    def __init__(self) -> None:
        self.done: list[str] = []
        self.messages: list[int] = []

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        self.messages.append(len(args[0]))
        self.done += [Path(parcel.name).parent.name for parcel in args[0]]
        future.set_result(fn(*args, **kwargs))
        return future


class Slow(Executor):
    """Answers only when so many wait; remembers how many that were at most."""

    def __init__(self, patience: int) -> None:
        self.patience, self.most = patience, 0
        self.waiting: list[tuple[Future[Any], Any]] = []

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        self.waiting.append((future, lambda: fn(*args, **kwargs)))
        self.most = max(self.most, len(self.waiting))
        if len(self.waiting) == self.patience:
            for answered, work in self.waiting:
                answered.set_result(work())
            self.waiting.clear()
        return future


def deadly_pool() -> Executor:
    """Return two processes that a study in a folder `deadly` ends; one in a folder `once` ends them one time."""
    return ProcessPoolExecutor(2, get_context("spawn"), make_deadly)


def make_deadly() -> None:
    honest = solved._solved

    def deadly(parcel: Any, asked: Any) -> Any:
        folder = Path(parcel.name).parent
        mark = folder / "died"
        if folder.name == "deadly" or (folder.name == "once" and not mark.exists()):
            mark.touch()
            os._exit(1)
        return honest(parcel, asked)

    solved._solved = deadly


def lines_of(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def by_number(*args: Any, **kwargs: Any) -> list[dict[str, Any]]:
    """Run to the end; return the lines in the order of the studies."""
    outcomes = sorted(run_many(*args, **kwargs), key=lambda outcome: outcome.number)
    return [outcome.line for outcome in outcomes if outcome.line is not None]
