from __future__ import annotations

import os
import signal
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import active_children, get_context
from pathlib import Path
from typing import Any

import pytest
from tests.unit.questions.many_helpers import (
    BAD,
    IMPOSSIBLE,
    AtOnce,
    Slow,
    by_number,
    deadly_pool,
    lines_of,
    several,
    study,
)

from reaccord.answer.fit import fit
from reaccord.contract import Budget
from reaccord.questions.many import run, solved
from reaccord.questions.many.run import ExecutorLost, run_many
from reaccord.questions.processes import Processes
from reaccord.report.data import fit_data
from reaccord.study.load import load_study


def spawned() -> Executor:
    return ProcessPoolExecutor(2, get_context("spawn"))


@pytest.mark.parametrize("make", [AtOnce, ThreadPoolExecutor, spawned, None])
def test_any_executor_gives_what_fit_gives(make: Callable[[], Executor] | None, tmp_path: Path) -> None:
    paths = several(tmp_path, 5)
    executor = make() if make else None
    lines = by_number(paths, executor)
    assert [line["study"] for line in lines] == [str(path) for path in paths]
    for path, line in zip(paths, lines, strict=True):
        data = fit_data(fit(load_study(path)))
        assert (line["status"], line["exit_code"], line["errors"]) == ("proven", 0, [])
        assert (line["formula"], line["inputs"]) == (data["formula"], data["inputs"])
        for name in ("value", "before_rounding", "bound", "gap", "misplaced_share"):
            assert line[name] == data["deviation"][name]
        assert line["cost_per_kg"] == data["totals"]["cost_per_kg"]
    if isinstance(executor, ThreadPoolExecutor | ProcessPoolExecutor):
        assert executor.submit(abs, -1).result() == 1, "it is left open"
        executor.shutdown()
    assert not active_children()


def test_a_study_that_fails_stops_no_other(tmp_path: Path) -> None:
    paths = [
        study(tmp_path, "good"),
        tmp_path / "none.toml",
        study(tmp_path, "bad", bottles=BAD),
        study(tmp_path, "impossible", settings=IMPOSSIBLE),
        study(tmp_path, "late", 70),
    ]
    (tmp_path / "bad" / "target.csv").unlink()
    lines = by_number(paths, AtOnce(), out=tmp_path / "r.jsonl")
    assert [line["status"] for line in lines] == ["proven", "invalid_input", "invalid_input", "infeasible", "proven"]
    assert [line["exit_code"] for line in lines] == [0, 3, 3, 4, 0]
    assert lines[1]["errors"][0]["message"] == f"there is no such file: {tmp_path / 'none.toml'}"
    told = {(error["file"], error["code"]) for error in lines[2]["errors"]}
    assert told == {("target.csv", "file-missing"), ("bottles.csv", "blank")}, "every finding at once"
    assert "Geraniol exactly 500 g" in lines[3]["errors"][0]["message"]
    assert [line["formula"] == [] for line in lines] == [False, True, True, True, False]
    assert len(lines_of(tmp_path / "r.jsonl")) == 5


def test_a_fault_of_ours_is_a_line_with_its_traceback(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any) -> Any:
        raise ZeroDivisionError("on purpose")

    monkeypatch.setattr("reaccord.questions.many.shelves.Shelves.opened", broken)
    (line,) = by_number([study(tmp_path, "s")], AtOnce())
    assert (line["status"], line["exit_code"]) == ("failed", 1)
    assert line["errors"][0]["message"] == "A fault of ours: ZeroDivisionError: on purpose"
    assert "in broken" in line["traceback"]


def test_results_come_as_they_are_found(tmp_path: Path) -> None:
    outcomes = run_many(several(tmp_path, 3), AtOnce(), out=tmp_path / "r.jsonl", in_flight=1)
    for number in range(3):
        assert next(outcomes).number == number
        assert len(lines_of(tmp_path / "r.jsonl")) == number + 1
    outcomes.close()


def test_no_more_are_on_their_way_than_asked(tmp_path: Path) -> None:
    executor = Slow(patience=3)
    lines = by_number(several(tmp_path, 9), executor, in_flight=3)
    assert (executor.most, len(lines)) == (3, 9)


def test_studies_of_milliseconds_go_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run, "WARM", 1)
    monkeypatch.setattr(run, "MOMENT", 60.0)
    executor = AtOnce()
    lines = by_number(paths := several(tmp_path, 20), executor, out=tmp_path / "r.jsonl", in_flight=1)
    assert [line["study"] for line in lines] == [str(path) for path in paths]
    assert executor.messages == [1, 2, 4, 8, 5]
    assert len(lines_of(tmp_path / "r.jsonl")) == 20


def test_a_message_ends_where_its_shelf_does(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From half of the most on; a shelf of its own for each study does not make each a message."""
    monkeypatch.setattr(run, "WARM", 1)
    monkeypatch.setattr(run, "TOGETHER", 6)
    monkeypatch.setattr(run, "MOMENT", 60.0)
    paths = []
    for number, path in enumerate(several(tmp_path, 3)):
        bottles = path.parent / "bottles.csv"
        bottles.write_text(bottles.read_text(encoding="utf-8") + "\n" * number, encoding="utf-8")
        others = [path.with_name(f"{k}.toml") for k in range(4)]
        for other in others:
            other.write_bytes(path.read_bytes())
        paths += [path, *others]
    executor = AtOnce()
    lines = by_number(paths, executor, in_flight=1)
    assert [line["study"] for line in lines] == [str(path) for path in paths]
    assert executor.messages == [1, 2, 2, 5, 5]
    assert executor.done == [f"s{number}" for number in range(3) for _ in range(5)]


def test_what_takes_longer_does_not_keep_others_waiting(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A message is answered after a moment; what was behind is sent again, in its turn."""
    monkeypatch.setattr(run, "WARM", 1)
    monkeypatch.setattr(run, "MOMENT", 60.0)
    monkeypatch.setattr(solved, "MOMENT", 0.0)
    executor = AtOnce()
    outcomes = list(run_many(several(tmp_path, 6), executor, out=tmp_path / "r.jsonl", in_flight=1))
    assert [outcome.number for outcome in outcomes] == list(range(6))
    assert executor.messages == [1, 2, 3, 3, 2, 1]
    assert [line["status"] for line in lines_of(tmp_path / "r.jsonl")] == ["proven"] * 6


def test_the_studies_are_read_one_by_one(tmp_path: Path) -> None:
    """A generator of a hundred thousand paths is not run to its end first."""
    paths = several(tmp_path, 9)
    asked: list[Path] = []

    def some() -> Any:
        for path in paths:
            asked.append(path)
            yield path

    outcomes = run_many(some(), AtOnce(), in_flight=2)
    next(outcomes)
    assert len(asked) == 2
    outcomes.close()


def test_named_twice_is_solved_once(tmp_path: Path) -> None:
    path = study(tmp_path, "s")
    executor = AtOnce()
    again = Path(os.path.relpath(path))
    outcomes = list(run_many([path, f"{path.parent}/./study.toml", path, again], executor, out=tmp_path / "r.jsonl"))
    assert [outcome.number for outcome in outcomes if outcome.line is None] == [1, 2]
    assert executor.done == ["s", "s"], "another path is another study, if only by its name"


def test_each_sample(tmp_path: Path) -> None:
    target = "constituent,G1,G2,G3\ngeraniol,60,70,x\ncitronellol,40,30,20"
    settings = {"target": {"samples": ["G1"]}}
    path = study(tmp_path, "s", target=target, settings=settings)
    lines = by_number([path], AtOnce(), each_sample=True)
    assert [(line["sample"], line["status"]) for line in lines] == [
        ("G1", "proven"),
        ("G2", "proven"),
        ("G3", "invalid_input"),
    ]
    grams = [{row["material"]: row["grams"] for row in line["formula"]} for line in lines]
    assert grams[0]["Geraniol"] == pytest.approx(6)
    assert grams[1]["Geraniol"] == pytest.approx(7)
    assert lines[2]["errors"][0]["code"] == "bad-cell"
    (alone,) = by_number([path], AtOnce())
    assert (alone["sample"], alone["formula"]) == (None, lines[0]["formula"])


def test_each_sample_of_a_target_that_cannot_be_read(tmp_path: Path) -> None:
    path = study(tmp_path, "s", target="constituent,G1\ngeraniol,60")
    (tmp_path / "s" / "target.csv").write_bytes(b"\xff\xfe")
    (line,) = by_number([path], AtOnce(), each_sample=True)
    assert (line["sample"], line["status"], line["errors"][0]["code"]) == (None, "invalid_input", "encoding")


def test_a_process_that_ends_once_is_forgiven(tmp_path: Path) -> None:
    paths = [*several(tmp_path, 3), study(tmp_path, "once"), study(tmp_path, "late", 70)]
    lines = by_number(paths, deadly_pool, out=tmp_path / "r.jsonl")
    assert [line["status"] for line in lines] == ["proven"] * 5
    assert len(lines_of(tmp_path / "r.jsonl")) == 5


def test_a_study_that_ends_every_process_is_named_and_no_other_is(tmp_path: Path) -> None:
    paths = [*several(tmp_path, 3), study(tmp_path, "deadly"), *(study(tmp_path, f"late{k}", 70) for k in range(3))]
    lines = by_number(paths, deadly_pool, out=tmp_path / "r.jsonl")
    assert [line["status"] for line in lines] == ["proven"] * 3 + ["failed"] + ["proven"] * 3
    assert "the process that solved this study ended without an answer, 2 times" in lines[3]["errors"][0]["message"]
    assert lines[3]["exit_code"] == 1
    found = Counter(line["study"] for line in lines_of(tmp_path / "r.jsonl"))
    assert found == Counter(map(str, paths)), "nothing lost and nothing twice"


def test_a_worker_killed_from_outside(tmp_path: Path) -> None:
    paths = several(tmp_path, 30)
    killed = False
    for number, _ in enumerate(run_many(paths, Processes(2), out=tmp_path / "r.jsonl")):
        if number == 4:
            os.kill(active_children()[0].pid or 0, signal.SIGKILL)
            killed = True
    assert killed
    lines = lines_of(tmp_path / "r.jsonl")
    assert Counter(line["study"] for line in lines) == Counter(map(str, paths))
    assert {line["status"] for line in lines} == {"proven"}


def test_an_open_executor_that_breaks_is_said_and_what_is_found_stays(tmp_path: Path) -> None:
    paths = [study(tmp_path, "good"), study(tmp_path, "deadly")]
    with deadly_pool() as executor, pytest.raises(ExecutorLost, match="the executor is lost"):
        list(run_many(paths, executor, out=tmp_path / "r.jsonl", in_flight=1))
    assert [line["status"] for line in lines_of(tmp_path / "r.jsonl")] == ["proven"]


def test_a_new_executor_that_is_broken(tmp_path: Path) -> None:
    class Broken(AtOnce):
        def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
            raise BrokenExecutor("from the start")

    with pytest.raises(ExecutorLost, match="from the start"):
        list(run_many([study(tmp_path, "s")], Broken))


def test_stopped_it_starts_nothing_more_and_goes_on_next_time(tmp_path: Path) -> None:
    paths, found = several(tmp_path, 6), []
    first = AtOnce()
    budget = Budget(stop=lambda: len(found) >= 2)
    for outcome in run_many(paths, first, out=tmp_path / "r.jsonl", budget=budget, in_flight=1):
        found.append(outcome)
    assert (len(found), len(lines_of(tmp_path / "r.jsonl"))) == (2, 2)
    second = AtOnce()
    outcomes = list(run_many(paths, second, out=tmp_path / "r.jsonl"))
    assert [outcome.taken_over for outcome in outcomes] == [True] * 2 + [False] * 4
    assert first.done + second.done == [path.parent.name for path in paths]


def test_left_alone_in_the_middle_no_process_stays(tmp_path: Path) -> None:
    outcomes = run_many(several(tmp_path, 20), Processes(2))
    next(outcomes)
    outcomes.close()
    until = time.monotonic() + 60
    while active_children() and time.monotonic() < until:
        time.sleep(0.05)
    assert not active_children()
