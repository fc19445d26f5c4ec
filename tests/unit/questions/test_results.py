from __future__ import annotations

import functools
import json
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.unit.questions.many_helpers import AtOnce, by_number, lines_of, several, study, undated

from reaccord.contract import Budget
from reaccord.findings import UsageError
from reaccord.questions.many.results import Results
from reaccord.questions.many.run import run_many


def again(paths: list[Path], out: Path, **more: Any) -> list[str]:
    """Run once more; return what was solved."""
    executor = AtOnce()
    by_number(paths, executor, out=out, **more)
    return executor.done


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "r.jsonl"


def test_what_is_there_is_not_done_again(tmp_path: Path, out: Path) -> None:
    paths = several(tmp_path, 3)
    first = by_number(paths, AtOnce(), out=out)
    before = out.read_bytes()
    executor = AtOnce()
    assert by_number(paths, executor, out=out) == first, "and comes from the file"
    assert executor.done == []
    assert out.read_bytes() == before


@pytest.mark.parametrize("file", ["study.toml", "bottles.csv"])
def test_what_has_changed_is_done_again_and_the_last_line_counts(file: str, tmp_path: Path, out: Path) -> None:
    paths = several(tmp_path, 3)
    again(paths, out)
    before = out.read_bytes()
    changed = tmp_path / "s1" / file
    changed.write_text(changed.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert again(paths, out) == ["s1"]
    assert out.read_bytes().startswith(before), "nothing is rewritten"
    assert len(lines_of(out)) == 4
    assert again(paths, out) == []


def test_a_file_that_was_missing_and_comes(tmp_path: Path, out: Path) -> None:
    path = study(tmp_path, "s")
    bottles = tmp_path / "s" / "bottles.csv"
    text = bottles.read_text(encoding="utf-8")
    bottles.unlink()
    assert again([path], out) == ["s"]
    assert again([path], out) == []
    bottles.write_text(text, encoding="utf-8")
    assert again([path], out) == ["s"]
    assert [line["status"] for line in lines_of(out)] == ["invalid_input", "proven"]


def test_another_gap_or_time_counts_where_it_can_change_the_answer(tmp_path: Path, out: Path) -> None:
    paths = several(tmp_path, 1)
    again(paths, out, budget=Budget(gap=0.01, seconds=100))
    assert again(paths, out, budget=Budget(gap=0.01)) == [], "proven in whatever time"
    assert again(paths, out, budget=Budget(gap=0.1)) == []
    assert again(paths, out, budget=Budget(gap=0.001)) == ["s0"]
    change(out, status="feasible", exit_code=5)
    assert again(paths, out, budget=Budget(gap=0.001)) == []
    assert again(paths, out, budget=Budget(gap=0.001, seconds=5)) == ["s0"]
    assert lines_of(out)[-1]["settings"] == {"gap": 0.001, "seconds": 5}


def change(out: Path, **values: Any) -> None:
    """Change the last line."""
    lines = lines_of(out)
    lines[-1] |= values
    out.write_text("".join(json.dumps(line) + "\n" for line in lines), encoding="utf-8")


def test_a_fault_is_tried_again(tmp_path: Path, out: Path) -> None:
    paths = several(tmp_path, 1)
    again(paths, out)
    change(out, status="failed", exit_code=1)
    assert again(paths, out) == ["s0"]


def test_a_study_without_a_date_is_done_again_on_another_day(tmp_path: Path, out: Path) -> None:
    path = undated(tmp_path, "s")
    again([path], out)
    assert lines_of(out)[0]["status"] == "proven"
    assert again([path], out) == []
    change(out, date="2020-02-02")
    assert again([path], out) == ["s"]


@pytest.mark.parametrize("kept", [1, 12, 40, -20, -2])
def test_a_half_written_last_line_is_cut_off(kept: int, tmp_path: Path, out: Path) -> None:
    paths = several(tmp_path, 3)
    again(paths, out)
    whole = out.read_bytes()
    *before, last = whole.splitlines(keepends=True)
    out.write_bytes(b"".join(before) + last[:kept])
    assert again(paths, out) == ["s2"]
    assert len(lines_of(out)) == 3
    assert out.read_bytes().startswith(b"".join(before))


def test_a_last_line_that_only_lacks_its_end(tmp_path: Path, out: Path) -> None:
    paths = several(tmp_path, 2)
    again(paths, out)
    whole = out.read_bytes()
    out.write_bytes(whole[:-1])
    assert again(paths, out) == []
    assert out.read_bytes() == whole


def without(name: str, ours: bytes) -> bytes:
    """Return the lines, the first without one of its keys."""
    first, rest = ours.split(b"\n", 1)
    line = json.loads(first)
    del line[name]
    return json.dumps(line).encode() + b"\n" + rest


@pytest.mark.parametrize(
    ("content", "row"),
    [
        (lambda ours: b"my notes", 1),
        (lambda ours: b"material,grams\nGeraniol,5\n", 1),
        (lambda ours: ours + b'{"schema": 2, "study": "cut\n' + ours, 3),
        (lambda ours: ours + b"[1]\n", 3),
        (lambda ours: ours + b'{"schema": 2, "study": "new"}\n', 3),
        (lambda ours: b"\xff\xfe\n", 1),
        *[
            (functools.partial(without, name), 1)
            for name in ("value", "bound", "gap", "cost_per_kg", "formula", "errors")
        ],
        (lambda ours: re.sub(rb'"value": [^,]+', b'"value": "x"', ours, count=1), 1),
    ],
)
def test_what_is_not_ours_is_refused_and_left_alone(
    content: Callable[[bytes], bytes], row: int, tmp_path: Path, out: Path
) -> None:
    paths = several(tmp_path, 2)
    again(paths, out)
    there = content(out.read_bytes())
    out.write_bytes(there)
    with pytest.raises(UsageError, match=rf"r\.jsonl, row {row}: not a result of"):
        list(run_many(paths, AtOnce(), out=out))
    assert out.read_bytes() == there


def test_blank_lines_are_passed_over(tmp_path: Path, out: Path) -> None:
    paths = several(tmp_path, 2)
    again(paths, out)
    out.write_bytes(b"\n" + out.read_bytes() + b"\n")
    assert again(paths, out) == []


def test_two_runs_do_not_write_to_one_file(tmp_path: Path, out: Path) -> None:
    with Results(out), pytest.raises(UsageError, match="another run is writing to"):
        Results(out)
    with Results(out):
        pass


@pytest.mark.parametrize("place", ["none/r.jsonl", "."])
def test_places_that_cannot_be_written(place: str, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"cannot write|no plain file"):
        Results(tmp_path / place)


def test_a_name_that_is_no_text(tmp_path: Path, out: Path) -> None:
    """File names are bytes; one that is no UTF-8 still gives lines of proper JSON."""
    path = tmp_path / os.fsdecode(b"caf\xe9.toml")
    again([path], out)
    (line,) = lines_of(out)
    assert line["study"] == str(path)
    assert again([path], out) == []
