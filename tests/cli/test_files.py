"""Files: written whole or not at all, never over an input; what is written reads back."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.cli.process import EXAMPLE, FAST, reaccord, reaccord_process, read_json


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


@pytest.mark.parametrize("option", ["--out", "--log"])
@pytest.mark.parametrize("name", ["study.toml", "constituents.csv", "limits.csv"])
def test_an_input_is_never_written_over(study: Path, name: str, option: str) -> None:
    before = bytes_of(study.parent)
    link = study.parent.parent / "link"
    link.symlink_to(study.parent / name)
    for way in (Path(name), Path(f"../{study.parent.name}/./{name}"), link):
        ended = reaccord("check", "study.toml", option, way, cwd=study.parent)
        assert (ended.code, ended.out) == (2, "")
        assert f"{way}: " in ended.err or f"{way} is " in ended.err
    told = "is an input of this study; write somewhere else." if option == "--out" else "is no log of runs"
    assert told in ended.err  # a link has no ending that could tell
    assert bytes_of(study.parent) == before


def test_a_hard_link_is_the_same_file(study: Path) -> None:
    other = study.parent.parent / "other.csv"
    other.hardlink_to(study.parent / "bottles.csv")
    ended = reaccord("check", study, "--out", other)
    assert ended.code == 2
    assert other.read_bytes() == (study.parent / "bottles.csv").read_bytes()


def test_the_formula_is_an_input_too(study: Path) -> None:
    formula = study.parent / "formula_2025.csv"
    before = formula.read_bytes()
    for option in ("--out", "--log"):
        ended = reaccord("compare", study, formula, option, "formula_2025.csv", cwd=study.parent)
        assert ended.code == 2
    assert formula.read_bytes() == before


def test_csv_has_no_place_for_a_broken_limit_so_stderr_tells_it(study: Path) -> None:
    formula = study.parent / "mine.csv"
    formula.write_text("material,lot,grams\nGeraniol 97,GE-12,0.5004\n", encoding="utf-8")
    ended = reaccord("compare", study, formula, "--output", "csv")
    assert ended.code == 4
    assert "warning: mine.csv: breaks Geraniol 97 (GE-12): whole steps of 0.001 g: 0.0004 g, at most 0 g." in ended.err
    assert "warning: mine.csv: breaks Geraniol: 0.783047427 %, at most 0.112 %." in ended.err
    said = reaccord("compare", study, formula, "--output", "json").json
    assert (said["exit_code"], said["status"], said["errors"]) == (4, "infeasible", [])
    assert "broken-limit" in {warning["code"] for warning in said["warnings"]}
    assert [row["label"] for row in said["data"]["limits"] if not row["held"]], "the judgement is there all the same"


def test_a_log_is_not_appended_to_a_study_that_cannot_be_read(changed: Callable[[str, str], Path]) -> None:
    study = changed("[batch]", "[bath]")
    before = bytes_of(study.parent)
    for name in ("study.toml", "bottles.csv"):
        assert reaccord("fit", study, "--log", study.parent / name).code == 2
    link = study.parent.parent / "link"
    link.symlink_to(study)
    assert reaccord("fit", study, "--log", link).code == 2
    assert bytes_of(study.parent) == before


def test_out_and_log_must_differ(tmp_path: Path, study: Path) -> None:
    (tmp_path / "log").symlink_to(tmp_path / "result")
    for log in ("result", "./result", "geranium/../result", "log"):
        ended = reaccord("check", study, "--out", "result", "--log", log, cwd=tmp_path)
        assert ended.code == 2
        assert "--out and --log name the same file." in ended.err
    assert not (tmp_path / "result").exists()


def test_a_folder_that_is_not_there_is_said_before_the_search(tmp_path: Path, large: Path) -> None:
    """Without a time limit: this test would hang if the search came first."""
    for option in ("--out", "--log"):
        ended = reaccord("fit", large, "--gap", "0", option, tmp_path / "none" / "result.json")
        assert (ended.code, ended.out) == (2, "")
        assert f"there is no folder {tmp_path / 'none'}." in ended.err


def test_a_name_no_file_can_have() -> None:
    ended = reaccord("check", EXAMPLE / "study.toml", "--out", "x" * 300)
    assert (ended.code, ended.out) == (2, "")
    assert "cannot write" in ended.err


def test_out_is_complete_and_leaves_nothing_beside_it(tmp_path: Path) -> None:
    folder = tmp_path / "results"
    folder.mkdir()
    out = folder / "fit.json"
    out.write_text("the result before", encoding="utf-8")
    ended = reaccord("fit", EXAMPLE / "study.toml", "--out", out, *FAST)
    assert ended.code == 0
    assert ended.out.startswith("Garden geranium"), "it still prints, as without a file"
    assert read_json(out.read_text(encoding="utf-8"))["status"] == "proven"
    assert [p.name for p in folder.iterdir()] == ["fit.json"]


def test_what_is_printed_is_what_is_printed_without_a_file(tmp_path: Path) -> None:
    study = EXAMPLE / "study.toml"
    for words in ((), ("--output", "json"), ("--output", "csv")):
        bare = reaccord("check", study, *words)
        for name in ("a.json", "a.csv", "a.txt"):
            ended = reaccord("check", study, *words, "--out", tmp_path / name)
            assert ended == bare
            assert words == () or (tmp_path / name).read_text(encoding="utf-8") == bare.out


def test_a_failure_leaves_the_result_before(tmp_path: Path, changed: Callable[[str, str], Path]) -> None:
    out = tmp_path / "fit.json"
    out.write_text("the result before", encoding="utf-8")
    ended = reaccord("fit", changed("cost_per_kg = 155", "cost_per_kg = 2"), "--out", out)
    assert ended.code == 4
    assert out.read_text(encoding="utf-8") == "the result before"


def test_the_ending_chooses_the_form_and_output_overrules_it(tmp_path: Path) -> None:
    study = EXAMPLE / "study.toml"
    forms = {}
    for name, words in {
        "a.JSON": (),
        "a.csv": (),
        "a.txt": (),
        "b.csv": ("--output", "table"),
        "b.txt": ("--output", "csv"),
    }.items():
        assert reaccord("check", study, "--quiet", "--out", tmp_path / name, *words).code == 0
        forms[name] = (tmp_path / name).read_text(encoding="utf-8")
    assert read_json(forms["a.JSON"])["command"] == "check"
    assert forms["a.csv"] == forms["b.txt"]
    assert forms["a.csv"].startswith("severity,code,file,row,column,message\n")
    assert forms["a.txt"] == forms["b.csv"]
    assert forms["a.txt"].startswith("Garden geranium")


def test_a_pipe_is_refused_and_a_device_written_to(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for option in ("--out", "--log"):  # opened, it would wait for a reader who may never come
        ended = reaccord("check", EXAMPLE / "study.toml", option, pipe)
        assert (ended.code, ended.out) == (2, "")
        assert "not a regular file" in ended.err
    assert pipe.is_fifo()
    ended = reaccord_process("check", EXAMPLE / "study.toml", "--quiet", "--out", "/dev/stdout")
    assert ended.code == 0
    assert ended.out.startswith("Garden geranium")


def test_the_log_gets_one_line_a_run(tmp_path: Path) -> None:
    log, study = tmp_path / "runs.jsonl", EXAMPLE / "study.toml"
    fit = reaccord("fit", study, "--output", "json", "--log", log, *FAST).json
    reaccord("compare", study, EXAMPLE / "formula_2025.csv", "--quiet", "--log", log)
    reaccord("check", study, "--quiet", "--log", log)
    text = log.read_text(encoding="utf-8")
    assert text.endswith("\n")
    first, second, third = (json.loads(line) for line in text.splitlines())
    assert [line["command"] for line in (first, second, third)] == ["fit", "compare", "check"]
    assert (first["status"], first["exit_code"], first["title"]) == ("proven", 0, "Garden geranium, lot G7")
    for name in ("value", "bound", "gap", "misplaced_share"):
        assert first[name] == fit["data"]["deviation"][name]
    assert first["cost_per_kg"] == fit["data"]["totals"]["cost_per_kg"]
    assert first["inputs"] == fit["data"]["inputs"]
    assert first["study"] == str(study)
    assert {"time", "version", "date"} <= set(first)
    assert "bound" not in second
    assert {item["file"] for item in second["inputs"]} >= {"formula_2025.csv"}


@pytest.mark.parametrize("name", ["study", "candle"])
def test_a_formula_reads_back_as_it_was(tmp_path: Path, name: str, request: pytest.FixtureRequest) -> None:
    formula, study = tmp_path / "formula.csv", EXAMPLE / f"{name}.toml"
    fit = request.getfixturevalue("fitted" if name == "study" else name).json["data"]
    assert reaccord("fit", study, "--out", formula, "--quiet").code == 0
    compared = reaccord("compare", study, formula, "--output", "json").json["data"]
    for key in ("formula", "totals", "target"):
        assert fit[key] == compared[key], "to the last digit"
    assert without_reasons(fit) == without_reasons(compared)
    for key in ("value", "misplaced_share", "coverage", "largest"):
        assert fit["deviation"][key] == compared["deviation"][key]
    assert all(row["held"] for row in compared["limits"])
    assert formula.read_text(encoding="utf-8").startswith("material,strength,carrier,lot,grams,share,cost\n")
    grams = [line.split(",")[-3] for line in formula.read_text(encoding="utf-8").splitlines()[1:]]
    assert all(len(gram.partition(".")[2]) <= 3 and "e" not in gram for gram in grams)


def without_reasons(data: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the residuals; of a formula that nothing optimised no trade-off is the reason."""
    return [{key: value for key, value in row.items() if key != "reason"} for row in data["residuals"]]


def test_new_writes_a_study_without_any_finding(tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "my study"
    made = reaccord("new", folder, "--output", "json")
    assert (made.code, made.json["status"]) == (0, "done")
    assert sorted(made.json["data"]["files"]) == sorted(p.name for p in folder.iterdir())
    checked = reaccord("check", folder / "study.toml", "--output", "json").json
    assert (checked["warnings"], checked["errors"]) == ([], [])
    fit = reaccord("fit", folder / "study.toml", "--output", "json")
    assert (fit.code, fit.json["status"], fit.json["warnings"]) == (0, "proven", [])
    assert "invented" in (folder / "study.toml").read_text(encoding="utf-8")


def test_new_refuses_what_is_not_empty(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    kept = tmp_path / "mine" / "study.toml"
    kept.write_text("mine", encoding="utf-8")
    for place in (kept.parent, kept):
        ended = reaccord("new", place)
        assert (ended.code, ended.out) == (2, "")
        assert "is there already and not empty; name a new folder." in ended.err
    assert kept.read_text(encoding="utf-8") == "mine"
    (tmp_path / "empty").mkdir()
    assert reaccord("new", tmp_path / "empty", "--out", tmp_path / "empty" / "study.toml").code == 2
    assert not list((tmp_path / "empty").iterdir())
    assert reaccord("new", tmp_path / "empty").code == 0
