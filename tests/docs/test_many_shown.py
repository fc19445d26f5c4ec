"""What the README says of many studies is what happens."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

from tests.cli.process import reaccord, run_python
from tests.docs.papers import ROOT, blocks, section
from tests.docs.test_readme_runs import same

WORDS = section("README.md", "Many studies")


def coarse(words: str) -> str:
    """Blank the gap and the last digits, which another processor may turn."""
    return re.sub(r"\d\.\d\d %", "~ %", re.sub(r"(?<=\d\.\d\d\d)\d+ *", "~ ", words))


def test_the_table_shown_is_the_table(tmp_path: Path) -> None:
    (command,), (shown,) = blocks(WORDS, "bash"), blocks(WORDS)
    words = shlex.split(command)[1:]
    lines = tmp_path / words[-1]
    ended = reaccord(*words[:-1], lines, cwd=ROOT)
    assert (ended.code, ended.err) == (0, "")
    same(coarse(shown), coarse(ended.out))
    told = set(re.findall(r"`([a-z_]+)`", WORDS.split("**A line of JSON each**")[1].split("Nothing in the file")[0]))
    for line in map(json.loads, lines.read_text(encoding="utf-8").splitlines()):
        assert told <= line.keys()


def test_the_python_shown_runs() -> None:
    (code,) = blocks(WORDS, "python")
    ended = run_python("-c", code, cwd=ROOT)
    assert (ended.code, ended.err) == (0, "")
    assert [line.split()[1] for line in ended.out.splitlines()] == ["proven"] * 2
