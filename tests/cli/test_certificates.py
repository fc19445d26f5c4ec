"""`fit --certificate` and `verify-certificate`."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.process import EXAMPLE, Ended, reaccord

STUDY = EXAMPLE / "study.toml"


@pytest.fixture(scope="session")
def proof(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ended]:
    """The example's certificate, and what `fit` said."""
    path = tmp_path_factory.mktemp("proof") / "geranium.json"
    return path, reaccord("fit", STUDY, "--certificate", path, "--output", "json")


def test_fit_writes_a_certificate_and_says_what_it_proves(proof: tuple[Path, Ended]) -> None:
    path, ended = proof
    assert ended.code == 0
    data = ended.json["data"]
    assert set(data["certificate"]) == {"file", "bound", "gap"}
    assert data["certificate"]["file"] == str(path)
    assert data["certificate"]["gap"] <= 1e-3
    assert data["certificate"]["bound"] <= data["deviation"]["before_rounding"]
    assert not [w for w in ended.json["warnings"] if w["code"] == "certificate-weaker"]
    held = json.loads(path.read_text(encoding="utf-8"))
    assert [entry["file"] for entry in held["study"]["inputs"]] == [entry["file"] for entry in data["inputs"]]


def test_it_is_accepted(proof: tuple[Path, Ended]) -> None:
    path, fitted = proof
    ended = reaccord("verify-certificate", path, "--output", "json")
    assert (ended.code, ended.json["status"], ended.json["command"]) == (0, "done", "verify-certificate")
    data = ended.json["data"]
    assert data["study"] is None
    assert data["excess"] == 0
    said = fitted.json["data"]
    assert (data["bound"], data["gap"]) == (said["certificate"]["bound"], said["certificate"]["gap"])
    assert data["value"] == pytest.approx(said["deviation"]["before_rounding"], rel=1e-6)
    assert data["inputs"] == said["inputs"]


def test_it_is_the_studys(proof: tuple[Path, Ended]) -> None:
    ended = reaccord("verify-certificate", proof[0], "--study", STUDY)
    assert ended.code == 0
    assert "holds every limit exactly" in " ".join(ended.out.split())
    assert "number by number" in ended.out


def test_as_csv(proof: tuple[Path, Ended]) -> None:
    ended = reaccord("verify-certificate", proof[0], "--output", "csv")
    (row,) = csv.DictReader(io.StringIO(ended.out))
    assert row["gap"].endswith(" %")
    assert float(row["bound"]) <= float(row["value"])


def test_it_is_not_another_studys(proof: tuple[Path, Ended]) -> None:
    ended = reaccord("verify-certificate", proof[0], "--study", EXAMPLE / "candle.toml", "--output", "json")
    assert (ended.code, ended.json["status"]) == (5, "failed")
    assert ended.json["errors"][0]["code"] == "certificate-refused"


def test_nor_the_studys_once_a_share_has_changed(proof: tuple[Path, Ended], study: Path) -> None:
    table = study.parent / "compositions.csv"
    text = table.read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.count(",") > 2 and line.split(",")[2].startswith("0."))
    cells = line.split(",")
    cells[2] += "0001"
    table.write_text(text.replace(line, ",".join(cells)), encoding="utf-8")
    ended = reaccord("verify-certificate", proof[0], "--study", study)
    assert ended.code == 5
    assert "not the study's: another" in ended.err


def test_nor_of_a_study_that_minimises_something_else(proof: tuple[Path, Ended], study: Path) -> None:
    text = study.read_text(encoding="utf-8")
    study.write_text(text.replace('measure = "squares"', 'measure = "worst"'), encoding="utf-8")
    ended = reaccord("verify-certificate", proof[0], "--study", study)
    assert ended.code == 5
    assert "it is about squares, the study's measure is worst." in ended.err


def test_the_title_is_the_studys_and_missing_hashes_are_said(
    proof: tuple[Path, Ended], study: Path, tmp_path: Path
) -> None:
    held = json.loads(proof[0].read_text(encoding="utf-8"))
    held["study"]["title"], held["study"]["inputs"] = "Another", []
    altered = tmp_path / "altered.json"
    altered.write_text(json.dumps(held), encoding="utf-8")
    ended = reaccord("verify-certificate", altered, "--study", study, "--output", "json")
    assert (ended.code, ended.json["data"]["title"]) == (0, "Garden geranium, lot G7")
    said = [(warning["code"], warning["message"]) for warning in ended.json["warnings"]]
    assert said == [("input-changed", "the certificate does not say which files it was made from.")]


def test_a_note_that_changes_nothing_is_said_and_accepted(proof: tuple[Path, Ended], study: Path) -> None:
    study.write_text(study.read_text(encoding="utf-8") + "\n# a note\n", encoding="utf-8")
    ended = reaccord("verify-certificate", proof[0], "--study", study, "--output", "json")
    assert ended.code == 0
    assert [(w["code"], w["file"]) for w in ended.json["warnings"]] == [("input-changed", "study.toml")]


def test_an_altered_one_is_refused(proof: tuple[Path, Ended], tmp_path: Path) -> None:
    held = json.loads(proof[0].read_text(encoding="utf-8"))
    held["claim"]["bound"], held["claim"]["gap"] = held["claim"]["value"], "0"
    altered = tmp_path / "altered.json"
    altered.write_text(json.dumps(held), encoding="utf-8")
    ended = reaccord("verify-certificate", altered)
    assert (ended.code, ended.out) == (5, "")
    assert ended.err.startswith("altered.json is refused: the bound claimed is")


@pytest.mark.parametrize("content", [b"", b"{", b"\xff\xfe", b"[]", b"\x00" * 100, b"[" * 100_000])
def test_what_is_no_certificate_is_refused(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "none.json"
    path.write_bytes(content)
    ended = reaccord("verify-certificate", path)
    assert (ended.code, ended.out) == (5, "")
    assert "is refused" in ended.err


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    ended = reaccord("verify-certificate", tmp_path / "nothing.json", "--output", "json")
    assert ended.code == 3
    assert ended.json["errors"][0]["code"] == "file-missing"


def test_never_over_an_input(study: Path) -> None:
    before = (study.parent / "bottles.csv").read_bytes()
    ended = reaccord("fit", study, "--certificate", study.parent / "bottles.csv", "--quiet")
    assert ended.code == 2
    assert (study.parent / "bottles.csv").read_bytes() == before


def test_never_over_the_result(study: Path, tmp_path: Path) -> None:
    path = tmp_path / "out.json"
    assert reaccord("fit", study, "--certificate", path, "--out", path, "--quiet").code == 2
    assert not path.exists()


def test_nothing_is_written_where_there_is_no_formula(changed: Callable[[str, str], Path], tmp_path: Path) -> None:
    study = changed("accord_g = 10 ", "accord_g = 0.01 ")
    path = tmp_path / "proof.json"
    assert reaccord("fit", study, "--certificate", path, "--quiet").code == 4
    assert not path.exists()


def test_only_squares_are_certified(changed: Callable[[str, str], Path], tmp_path: Path) -> None:
    study = changed('measure = "squares"', 'measure = "worst"')
    ended = reaccord("fit", study, "--certificate", tmp_path / "proof.json", "--quiet")
    assert ended.code == 2
    assert "squares" in ended.err
