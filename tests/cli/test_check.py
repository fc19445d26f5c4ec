"""`check --synonyms`: a table of the names asked about."""

from __future__ import annotations

from pathlib import Path

from tests.cli.process import reaccord


def test_synonyms_to_confirm_are_written(study: Path, tmp_path: Path) -> None:
    target = study.parent / "target.csv"
    target.write_text(
        target.read_text(encoding="utf-8").replace("alpha-humulene,6753-98-6", "A-Humulene,"), encoding="utf-8"
    )
    ended = reaccord("check", study, "--synonyms", tmp_path / "asked.csv")
    assert ended.code == 0
    assert (tmp_path / "asked.csv").read_text(encoding="utf-8") == ("constituent,synonyms\nalpha-humulene,A-Humulene\n")


def test_synonyms_never_fall_on_another_file(study: Path, tmp_path: Path) -> None:
    assert reaccord("check", study, "--synonyms", study.parent / "target.csv").code == 2
    both = tmp_path / "both.csv"
    ended = reaccord("check", study, "--synonyms", both, "--out", both)
    assert ended.code == 2
    assert "another output goes to that file" in ended.err
