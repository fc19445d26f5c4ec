"""README and examples run as printed."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from tests.cli.process import EXAMPLE, reaccord, run_python
from tests.docs.papers import ROOT, blocks, section, text
from tests.docs.shown import in_a_shell, missing

PAGES = sorted(ROOT.glob("examples/*/README.md"))


def test_the_output_shown_is_the_output() -> None:
    ended = reaccord("fit", "examples/geranium/study.toml", "--quiet", cwd=ROOT)
    assert ended.code == 0
    (shown,) = blocks(section("README.md", "What comes out"))
    assert not missing(shown, ended.out), ended.out


def test_the_study_that_new_writes_is_one(tmp_path: Path) -> None:
    for line in ("reaccord new my-study", "reaccord check my-study/study.toml", "reaccord fit my-study/study.toml"):
        ended = in_a_shell(line, tmp_path)
        assert ended.returncode == 0, f"{line}\n{ended.stdout}"


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
def test_the_commands_of_an_example(page: Path, tmp_path: Path) -> None:
    folder = tmp_path / page.parent.name
    shutil.copytree(page.parent, folder)
    lines = [line for block in blocks(page.read_text(encoding="utf-8")) for line in block.splitlines()]
    lines = [line for line in lines if line.startswith("reaccord ")]
    assert lines, "an example shows how it is run"
    for line in lines:
        ended = in_a_shell(line, folder)
        assert ended.returncode == 0, f"{line}\n{ended.stdout}"


def test_examples_say_that_they_are_invented() -> None:
    for folder in (path for path in (ROOT / "examples").iterdir() if path.is_dir()):
        for study in folder.glob("*.toml"):
            assert "invented" in study.read_text(encoding="utf-8"), study


def test_the_formula_of_2025_holds_every_limit() -> None:
    ended = reaccord("compare", EXAMPLE / "study.toml", EXAMPLE / "formula_2025.csv", "--output", "json")
    limits = ended.json["data"]["limits"]
    assert len(limits) >= 9
    assert all(row["held"] for row in limits)


def test_no_path_of_a_machine_in_the_papers() -> None:
    for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md"):
        assert not re.search(r"(?<![\w.])/(?:home|work|tmp|root|Users)/", text(name)), name
