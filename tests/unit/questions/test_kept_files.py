"""A table of several studies is read once while nothing tells that it has changed, and not a moment longer."""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.unit.questions.many_helpers import several

from reaccord.findings import Findings
from reaccord.questions.many import kept_files
from reaccord.questions.many.kept_files import KeptFiles
from reaccord.questions.many.parcel import parcels

LONG_AGO = 1_700_000_000


@pytest.fixture
def table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a table that counts as at rest from the moment it is there."""
    monkeypatch.setattr(kept_files, "AT_REST", -60_000_000_000)
    path = tmp_path / "t.csv"
    path.write_bytes(b"a,b\n1,2\n")
    os.utime(path, (LONG_AGO, LONG_AGO))
    return path


def read(kept: KeptFiles, path: Path) -> tuple[bytes, object]:
    found = kept.read(str(path.parent), path.name, Findings())
    assert found is not None
    return found


def test_what_stays_is_the_very_same(table: Path) -> None:
    kept = KeptFiles()
    first, second = read(kept, table), read(kept, table)
    assert second is first
    assert first[0] == b"a,b\n1,2\n"


def rewritten(path: Path) -> None:
    """Write as many bytes, as old by the time of their content; the clock of the file system ticks in milliseconds."""
    before = path.stat().st_ctime_ns
    while path.stat().st_ctime_ns == before:
        path.write_bytes(b"a,b\n1,3\n")
        os.utime(path, (LONG_AGO, LONG_AGO))


def replaced(path: Path) -> None:
    other = path.with_name("other")
    other.write_bytes(b"a,b\n1,3\n")
    os.utime(other, (LONG_AGO, LONG_AGO))
    other.replace(path)


def lengthened(path: Path) -> None:
    with path.open("ab") as stream:
        stream.write(b"3,4\n")


@pytest.mark.parametrize("change", [rewritten, replaced, lengthened])
def test_what_changes_between_two_studies_is_seen(change: Callable[[Path], None], table: Path) -> None:
    kept = KeptFiles()
    read(kept, table)
    change(table)
    assert read(kept, table)[0] == table.read_bytes()


def test_what_was_changed_just_now_is_read_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two changes within one tick of the file system's clock show the same time."""
    monkeypatch.setattr(kept_files, "_stamp", lambda path: (1, 1, 8, *(2 * [os.stat(path).st_mtime_ns // 10**10])))
    monkeypatch.setattr("time.time_ns", lambda: kept_files.AT_REST)
    path, kept = tmp_path / "t.csv", KeptFiles()
    for content in (b"a,b\n1,2\n", b"a,b\n1,3\n"):
        path.write_bytes(content)
        assert read(kept, path)[0] == content


def test_what_goes_is_missing(table: Path) -> None:
    kept, findings = KeptFiles(), Findings()
    read(kept, table)
    table.unlink()
    assert kept.read(str(table.parent), table.name, findings) is None
    assert [finding.code for finding in findings] == ["file-missing"]


def test_only_the_last_few_are_remembered(table: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_files, "MOST", 2)
    kept = KeptFiles()
    others = [table.with_name(f"{number}.csv") for number in range(2)]
    first = read(kept, table)
    for other in others:
        other.write_bytes(b"x")
        read(kept, other)
    assert read(kept, others[1]) is read(kept, others[1])
    assert read(kept, table) is not first


def test_no_more_bytes_than_the_largest_file(table: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_files, "LARGEST_FILE", 10)
    kept, other = KeptFiles(), table.with_name("other.csv")
    first = read(kept, table)
    other.write_bytes(b"a,b\n")
    read(kept, other)
    assert read(kept, table) is not first


def test_a_message_holds_the_bytes_of_a_shared_table_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_files, "AT_REST", -60_000_000_000)
    paths, kept = several(tmp_path, 2), KeptFiles()
    for path in paths:
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace('"bottles.csv"', '"../bottles.csv"'), encoding="utf-8")
    (tmp_path / "s0" / "bottles.csv").rename(tmp_path / "bottles.csv")
    same = [tmp_path / "s0" / f"study_{number}.toml" for number in range(2)]
    for path in same:
        path.write_bytes(paths[0].read_bytes())
    one, two = (next(parcels(path, files=kept)) for path in same)
    assert one.files["../bottles.csv"] is two.files["../bottles.csv"]
    assert one.said[0] is not None
    assert two.said[0] is not None
    assert one.said[0].shelf is two.said[0].shelf
    assert pickle.dumps([one, two]).count(one.files["../bottles.csv"][0]) == 1
