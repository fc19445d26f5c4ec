"""README and examples run as printed."""

from __future__ import annotations

import difflib
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from tests.cli.process import EXAMPLE, GENEROUS, environment, reaccord, run_python
from tests.docs.papers import ROOT, blocks, section, text

OUTPUT = "What comes out"
OWN = "A study of your own"
PAGES = sorted(ROOT.glob("examples/*/README.md"))


def steady(words: str) -> str:
    """Blank out what differs between machines: seconds, and how near the search came to the bound."""
    words = re.sub(r", proven(?: within [\d.e-]+ %)?:", ", proven ~:", words)
    for pattern in (
        r"(?<=, bound )[\d.e-]+(?=:)",
        r"(?<=within )[\d.e-]+(?= % of the bound)",
        r"(?<=Searched for )[\d.]+(?= s\.)",
    ):
        words = re.sub(pattern, "~", words)
    return words


def same(printed: str, real: str) -> None:
    names = ("README.md", "what the program prints")
    diff = list(difflib.unified_diff(printed.splitlines(), real.splitlines(), *names, lineterm="", n=1))
    assert not diff, "the README has drifted:\n" + "\n".join(diff)


def in_a_shell(line: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    """Run a line as printed, `reaccord` being the one installed beside this Python."""
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    return subprocess.run(
        ["bash", "-euo", "pipefail", "-c", line],
        cwd=cwd,
        env=environment(PATH=path),
        capture_output=True,
        encoding="utf-8",
        timeout=GENEROUS,
        check=False,
    )


def test_the_output_shown_is_the_output() -> None:
    ended = reaccord("fit", "examples/geranium/study.toml", "--quiet", cwd=ROOT)
    assert ended.code == 0
    (shown,) = blocks(section("README.md", OUTPUT))
    same(steady(shown), steady(ended.out))


def test_the_commands_for_a_study_of_your_own(tmp_path: Path) -> None:
    (block,) = blocks(section("README.md", OWN), "bash")
    for line in block.splitlines():
        ended = in_a_shell(line, tmp_path)
        assert ended.returncode == 0, f"{line}\n{ended.stderr}"
    assert (tmp_path / "formula.csv").exists()


def test_the_findings_shown_are_the_findings(tmp_path: Path) -> None:
    """The mistakes the README shows, made in a copy of the example."""
    shutil.copytree(EXAMPLE, tmp_path / "geranium")
    study, bottles = tmp_path / "geranium" / "study.toml", tmp_path / "geranium" / "bottles.csv"
    lines = bottles.read_text(encoding="utf-8").splitlines()
    column = lines[0].split(",").index("price_per_kg")
    cells = lines[13].split(",")
    cells[column] = '"12,5"'
    lines[13] = ",".join(cells)
    bottles.write_text("\n".join(lines) + "\n", encoding="utf-8")
    study.write_text(study.read_text(encoding="utf-8").replace("Citronella oil", "Citronela oil"), encoding="utf-8")
    (shown,) = blocks(section("README.md", OWN))
    same(shown, reaccord("check", study, "--quiet").err)


def test_the_python_shown_runs() -> None:
    (block,) = blocks(section("README.md", OWN), "python")
    more = """
import pandas
assert isinstance(answer.formula, pandas.DataFrame) and isinstance(answer.residuals, pandas.DataFrame)
assert 0 < answer.bound and 0 <= answer.gap <= 1e-3
print(f"{answer.judged.totals.cost_per_kg:.2f}")
"""
    ended = run_python("-c", block + more, cwd=ROOT)
    assert (ended.code, ended.err) == (0, "")
    assert float(ended.out) <= 140


def test_public_names_stay_what_they_are_whatever_is_imported() -> None:
    """Modules called `fit` and `judge` must not take the place of the functions."""
    code = """
import reaccord
import reaccord.cli.compare, reaccord.cli.fit
for name in reaccord.__all__:
    assert callable(getattr(reaccord, name)), name
from reaccord.answer.judge import judge
assert reaccord.answer.judge is judge
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
        assert ended.returncode == 0, f"{line}\n{ended.stderr}"


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
