"""README and examples run as printed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests.cli.process import EXAMPLE, run_python
from tests.docs.expected import SAME, STORED
from tests.docs.papers import ROOT, blocks, section, text
from tests.docs.shown import called, missing

from reaccord.cli.streams import NO_TERMINAL

PAGES = sorted(ROOT.glob("examples/*/README.md"))


def test_the_output_shown_is_the_output(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    (shown,) = blocks(section("README.md", "What comes out"))
    real = called("reaccord fit examples/geranium/study.toml").text(NO_TERMINAL)
    assert not missing(shown, real), real


def test_the_study_that_new_writes_is_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for line in ("reaccord new my-study", "reaccord check my-study/study.toml", "reaccord fit my-study/study.toml"):
        assert called(line).exit_code == 0, line


def test_public_names_stay_what_they_are_whatever_is_imported() -> None:
    """Modules called `fit` and `judge` must not take the place of the functions."""
    code = """
import reaccord
import reaccord.cli.compare, reaccord.cli.fit
for name in reaccord.__all__:
    assert callable(getattr(reaccord, name)), name
from reaccord.answer.judge import judge
assert reaccord.judge is judge
"""
    ended = run_python("-c", code)
    assert (ended.code, ended.err) == (0, "")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.parent.name)
def test_the_commands_of_an_example(page: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(page.parent)
    lines = [line for block in blocks(page.read_text(encoding="utf-8")) for line in block.splitlines()]
    lines = [line for line in lines if line.startswith("reaccord ")]
    assert lines, "an example shows how it is run"
    for line in lines:
        fitted = re.fullmatch(r"reaccord fit (\S+)", line)
        if fitted:
            assert f"{page.parent.name}/{fitted[1]}" in {*STORED, *SAME}, "test_expected runs it"
        else:
            assert called(line).exit_code == 0, line


def test_examples_say_that_they_are_invented() -> None:
    for folder in (path for path in (ROOT / "examples").iterdir() if path.is_dir()):
        for study in folder.glob("*.toml"):
            assert "invented" in study.read_text(encoding="utf-8"), study


def test_the_formula_of_2025_holds_every_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(EXAMPLE)
    limits = called("reaccord compare study.toml formula_2025.csv").data["limits"]
    assert len(limits) >= 9
    assert all(row["held"] for row in limits)


def test_no_path_of_a_machine_in_the_papers() -> None:
    for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md"):
        assert not re.search(r"(?<![\w.])/(?:home|work|tmp|root|Users)/", text(name)), name
