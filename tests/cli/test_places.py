"""Files that are no plain files, names that are none, and places that may not be written to."""

from __future__ import annotations

import inspect
import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path
from typing import get_args

import pytest
import typer.main
from tests.cli.process import EXAMPLE, GENEROUS, environment, reaccord, reaccord_process, read_json
from tests.cli.test_endings import in_a_shell

from reaccord.cli.app import app_of

STUDY = EXAMPLE / "study.toml"
COMMANDS = typer.main.get_command(app_of()).commands  # type: ignore[attr-defined]
SHARED = ["output", "out", "quiet", "log", "note"]


@pytest.mark.parametrize("command", COMMANDS)
def test_shared_options_stand_last_and_in_one_order(command: str) -> None:
    names = [parameter.name for parameter in COMMANDS[command].params if parameter.name != "help"]
    assert names[-5:] == SHARED
    assert ("seconds" in names) == ("gap" in names)
    if "seconds" in names:
        assert names[-7:-5] == ["seconds", "gap"]
    texts = {parameter.name: parameter.help for parameter in COMMANDS[command].params}
    reference = {parameter.name: parameter.help for parameter in COMMANDS["fit"].params}
    for name in ("seconds", "gap", "output", "quiet", "log"):
        assert texts.get(name) in {None, reference[name]}


def test_the_parser_leaves_it_to_us_what_can_be_read() -> None:
    """Else a study nobody may read would be a usage error, and a file that may only be written no `--out`."""
    declared = [p for c in app_of().registered_commands for p in inspect.signature(c.callback).parameters.values()]  # type: ignore[arg-type]
    paths = [get_args(p.annotation)[1] for p in declared if "Path" in str(get_args(p.annotation)[0])]
    assert len(paths) > 20
    assert not any(path.readable or path.writable for path in paths)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the example and a pipe that nobody writes to or reads."""
    shutil.copytree(EXAMPLE, tmp_path / "geranium")
    os.mkfifo(tmp_path / "pipe")
    os.mkfifo(tmp_path / "geranium" / "pipe.csv")
    return tmp_path


def test_pipes_are_no_tables(folder: Path) -> None:
    """Opening one would wait for somebody at its other end."""
    study = folder / "geranium" / "study.toml"
    study.write_text(study.read_text(encoding="utf-8").replace('"limits.csv"', '"pipe.csv"'), encoding="utf-8")
    for words in (
        ("check", "pipe"),
        ("check", "geranium/study.toml"),
        ("compare", STUDY, "pipe"),
        ("spread", STUDY, "--formula", "pipe"),
        ("verify-certificate", "pipe"),
    ):
        ended = reaccord(*words, cwd=folder)
        assert (ended.code, ended.out) == (3, ""), words
        assert "not a regular file, but a pipe or a device" in ended.err
    assert reaccord("many", "pipe", cwd=folder).code == 3


@pytest.mark.parametrize("option", ["--out", "--log"])
def test_pipes_are_no_outputs(folder: Path, option: str) -> None:
    for name in ("pipe", folder / "pipe"):
        ended = reaccord("check", STUDY, option, name, cwd=folder)
        assert (ended.code, ended.out, ended.err) == (2, "", f"cannot write {name}: it is not a regular file.\n")
    ended = reaccord("fit", STUDY, "--certificate", "pipe", option, "a.jsonl", cwd=folder)
    assert ended.code == 2


def test_devices_are_written_to_as_they_are(tmp_path: Path) -> None:
    assert reaccord("check", STUDY, "--quiet", "--out", "/dev/null", "--log", "/dev/null").code == 0
    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)
    ended = reaccord_process("check", STUDY, "--output", "json", "--out", "/dev/stdout")
    assert (ended.code, ended.json["status"]) == (0, "done")
    (tmp_path / "kept").write_text("before\n", encoding="utf-8")
    assert in_a_shell(f"reaccord check {STUDY} --quiet --out /dev/stdout >> kept", tmp_path).returncode == 0
    assert (tmp_path / "kept").read_text(encoding="utf-8").startswith("before\nGarden")
    ended = in_a_shell(
        f"reaccord check {STUDY} --quiet --out >(cat > copied) > printed; wait; sleep 0.2; head -1 copied", tmp_path
    )
    assert (ended.returncode, ended.stdout) == (0, "Garden geranium, lot G7 (2026-11-25): 1 warning, no errors.\n")
    assert (tmp_path / "printed").read_text(encoding="utf-8") == (tmp_path / "copied").read_text(encoding="utf-8")
    if Path("/dev/full").exists():
        ended = reaccord("check", STUDY, "--quiet", "--out", "/dev/full")
        assert (ended.code, ended.err) == (
            2,
            "cannot write /dev/full: No space left on device. The result went to stdout instead.\n",
        )
        assert ended.out.startswith("Garden geranium, lot G7")
        ended = reaccord("check", STUDY, "--output", "json", "--out", "/dev/full")
        printed = read_json(ended.out)
        assert (ended.code, printed["exit_code"], printed["status"]) == (2, 2, "invalid_input")
        assert [error["code"] for error in printed["errors"]] == ["usage"]
        assert printed["data"]["title"] == "Garden geranium, lot G7"


def test_a_reader_of_an_open_pipe_who_is_gone(tmp_path: Path) -> None:
    """It must not wait for another."""
    ended = in_a_shell(f"reaccord check {STUDY} --quiet --out /dev/stdout | true; echo ${{PIPESTATUS[0]}}", tmp_path)
    assert ended.stdout in {"0\n", "2\n"}
    assert "Traceback" not in ended.stderr


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("g.xlsx", "--out g.xlsx: nothing is written as .xlsx; end it in .csv, .json or .txt."),
        ("g.md", "--out g.md: nothing is written as .md; end it in .csv, .json or .txt."),
        ("g.svg", "--out g.svg: nothing is written as .svg; end it in .csv, .json or .txt."),
        ("-", '"-" is no file name; without --out the result goes to stdout.'),
    ],
)
def test_a_name_that_promises_something_else(tmp_path: Path, name: str, said: str) -> None:
    for more in ((), ("--output", "json")):
        ended = reaccord("check", "none.toml", "--out", name, *more, cwd=tmp_path)
        assert ended.code == 2
        assert (ended.json["errors"][0]["message"] if more else ended.err.strip()) == said
    assert not list(tmp_path.iterdir())


def test_pictures_and_lines_have_their_own_endings(tmp_path: Path) -> None:
    for command, name, said in (
        ("frontier", "a.gif", "end it in .csv, .json, .pdf, .png, .svg or .txt."),
        ("many", "a.json", "end it in .jsonl or .ndjson."),
    ):
        ended = reaccord(command, "none.toml", "--out", name, cwd=tmp_path)
        assert (ended.code, ended.err) == (2, f"--out {name}: nothing is written as {Path(name).suffix}; {said}\n")


def test_a_link_is_followed_and_stays(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    link = tmp_path / "a.json"
    link.symlink_to(tmp_path / "there" / "real.json")
    for _ in range(2):  # to a file that is not there yet, and to one that is
        assert reaccord("check", STUDY, "--out", link).code == 0
        assert link.is_symlink()
        assert read_json((tmp_path / "there" / "real.json").read_text(encoding="utf-8"))["command"] == "check"


def test_a_missing_file_is_named_once() -> None:
    assert reaccord("check", "nope.toml").err == "nope.toml: there is no such file.\n1 finding, nothing was solved.\n"


def test_a_folder_stands_for_the_one_study_in_it(folder: Path) -> None:
    ended = reaccord("check", "geranium", cwd=folder)
    said = "geranium holds 2 study files: candle.toml, study.toml. Which one? Name it, as geranium/study.toml.\n"
    assert (ended.code, ended.out, ended.err) == (2, "", said)
    (folder / "geranium" / "candle.toml").unlink()
    by_folder, by_file = (reaccord("check", name, cwd=folder) for name in ("geranium", "geranium/study.toml"))
    assert by_folder == by_file
    assert by_folder.code == 0
    inside = reaccord("check", ".", "--out", "bottles.csv", cwd=folder / "geranium")
    assert (inside.code, inside.err) == (2, "bottles.csv is an input of this study; write somewhere else.\n")
    many = reaccord("many", "geranium", "--gap", "0.5", "--output", "json", cwd=folder)
    assert [line["study"] for line in many.json["data"]["results"]] == ["geranium/study.toml"]
    (folder / "geranium" / "study.toml").unlink()
    ended = reaccord("check", "geranium", cwd=folder)
    assert (ended.code, ended.out) == (3, "")
    assert ended.err.startswith("geranium: holds no study file (.toml). ")


@pytest.mark.parametrize("name", [".", "my study", "Büro 天"])
def test_new_says_what_to_type_next(tmp_path: Path, name: str) -> None:
    ended = reaccord("new", name, cwd=tmp_path)
    first, second = ended.out.splitlines()
    assert first == "Wrote bottles.csv, compositions.csv, limits.csv, study.toml, target.csv."
    assert second.startswith("Fill them in, then: reaccord check ")
    assert in_a_shell(second.removeprefix("Fill them in, then: "), tmp_path).returncode == 0


def test_a_path_that_is_no_text(tmp_path: Path) -> None:
    """On Linux a name is bytes; JSON carries what cannot be decoded as an escape."""
    folder = os.fsencode(tmp_path) + b"/caf\xe9"
    try:
        os.mkdir(folder)
    except OSError:
        pytest.skip("this file system takes text only")
    command = [os.fsencode(sys.executable), b"-m", b"reaccord", b"check", folder + b"/none.toml", b"--output", b"json"]
    ended = subprocess.run(command, capture_output=True, env=environment(), timeout=GENEROUS, check=False)
    assert ended.returncode == 3
    assert "caf\\udce9" in ended.stdout.decode()
    told = subprocess.run(
        [*command[:5], b"--log", folder + b"/log"], capture_output=True, check=False, env=environment()
    )
    assert (told.returncode, "Traceback" in told.stderr.decode()) == (3, False)
    assert b"caf\\udce9" in Path(os.fsdecode(folder + b"/log")).read_bytes()
