"""Output files: whole or not at all, and never over an input."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from reaccord.findings import UsageError
from reaccord.report.files import append_line, need_place, refuse_inputs, same_file, write_whole


def test_a_whole_file_with_the_rights_of_a_new_one(tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    write_whole(path, "Néroli\r\n")
    assert path.read_bytes() == "Néroli\r\n".encode()
    (tmp_path / "other").write_text("")
    assert path.stat().st_mode == (tmp_path / "other").stat().st_mode


def test_an_older_file_is_replaced(tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    path.write_text("old and longer")
    write_whole(path, "new")
    assert path.read_text() == "new"


@pytest.mark.parametrize("failing", ["fsync", "replace"])
def test_a_failure_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str
) -> None:
    path = tmp_path / "out.csv"
    path.write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(*((os, "fsync") if failing == "fsync" else (Path, "replace")), full)
    with pytest.raises(UsageError) as caught:
        write_whole(path, "new")
    assert str(caught.value) == f"cannot write {path}: No space left on device."
    assert path.read_text() == "old"
    assert [item.name for item in tmp_path.iterdir()] == ["out.csv"]


def test_an_interruption_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path / "out.csv", "new")
    assert list(tmp_path.iterdir()) == []


def test_places_that_cannot_be_written(tmp_path: Path) -> None:
    path = tmp_path / "nowhere" / "out.csv"
    for write in (write_whole, append_line):
        with pytest.raises(UsageError) as caught:
            write(path, "x")
        assert str(caught.value) == f"cannot write {path}: No such file or directory."
    with pytest.raises(UsageError):
        append_line(tmp_path, "x")
    with pytest.raises(UsageError):
        write_whole(tmp_path, "x")


def test_never_over_an_input(tmp_path: Path) -> None:
    source = tmp_path / "study.toml"
    source.write_text("x")
    (tmp_path / "link").symlink_to(source)
    for path in (source, tmp_path / "link", tmp_path / "." / "study.toml", tmp_path / "a" / ".." / "study.toml"):
        (tmp_path / "a").mkdir(exist_ok=True)
        with pytest.raises(UsageError) as caught:
            refuse_inputs(path, [tmp_path / "gone.csv", source])
        assert str(caught.value) == f"{path} is an input of this study; write somewhere else."
    refuse_inputs(tmp_path / "new.csv", [source])


def test_a_folder_is_no_output(tmp_path: Path) -> None:
    with pytest.raises(UsageError) as caught:
        refuse_inputs(tmp_path, [])
    assert str(caught.value) == f"{tmp_path} is a folder; an output needs a file name."


def test_a_name_no_file_can_have(tmp_path: Path) -> None:
    path = tmp_path / ("x" * 300)
    with pytest.raises(UsageError) as caught:
        write_whole(path, "x")
    assert str(caught.value) == f"cannot write {path}: File name too long."


def test_a_log_grows_by_lines(tmp_path: Path) -> None:
    path = tmp_path / "log.jsonl"
    append_line(path, '{"a": 1}')
    append_line(path, '{"b": "é"}')
    assert path.read_text(encoding="utf-8") == '{"a": 1}\n{"b": "é"}\n'


def test_a_log_begins_a_line_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "log.jsonl"
    path.write_text('{"cut', encoding="utf-8")
    append_line(path, "{}")
    assert path.read_text(encoding="utf-8") == '{"cut\n{}\n'


def test_the_rights_of_the_file_before_are_kept(tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    path.write_text("old")
    path.chmod(0o600)
    write_whole(path, "new")
    assert (path.read_text(), path.stat().st_mode & 0o777) == ("new", 0o600)


def test_the_longest_name_a_folder_takes(tmp_path: Path) -> None:
    path = tmp_path / ("x" * 251 + ".csv")
    write_whole(path, "x")
    assert [item.name for item in tmp_path.iterdir()] == [path.name]


def test_the_same_file_by_two_names(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("x")
    (tmp_path / "link").symlink_to("a")
    (tmp_path / "hard").hardlink_to(tmp_path / "a")
    assert all(same_file(tmp_path / "a", tmp_path / other) for other in ("a", "link", "hard", "./a"))
    assert same_file(tmp_path / "none", tmp_path / "b" / ".." / "none")
    assert not same_file(tmp_path / "a", tmp_path / "none")
    assert not same_file(None, tmp_path / "a")
    assert not same_file(Path("/dev/null"), Path("/dev/null"))


def test_places_are_refused_before_anything_is_solved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "out.csv"
    need_place(path)
    for taken, message in (
        (tmp_path / "none" / "a", f"there is no folder {tmp_path / 'none'}."),
        (tmp_path, "it is not a regular file."),
    ):
        with pytest.raises(UsageError) as caught:
            need_place(taken)
        assert str(caught.value) == f"cannot write {taken}: {message}"
    path.write_text("x")
    monkeypatch.setattr(os, "access", lambda item, _: Path(item) != tmp_path)
    need_place(path, append=True)  # a line is added to the file that is there
    with pytest.raises(UsageError) as caught:
        need_place(path)
    assert str(caught.value) == f"cannot write {path}: the folder {tmp_path} may not be written to."
    monkeypatch.setattr(os, "access", lambda item, _: Path(item) == tmp_path)
    with pytest.raises(UsageError) as caught:
        need_place(path, append=True)
    assert str(caught.value) == f"cannot write {path}: permission denied."
