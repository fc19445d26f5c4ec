"""The walk from an empty folder to a corrected batch: every command, one after the other, prints what is shown."""

from __future__ import annotations

import shlex
from itertools import pairwise
from pathlib import Path

from tests.cli.process import reaccord
from tests.docs.papers import fenced
from tests.docs.shown import missing

from reaccord.manual import pages


def test_every_step_prints_what_is_shown(tmp_path: Path) -> None:
    blocks = [*fenced(pages.page("start")), ("", "")]
    steps = [(line, "" if other else shown) for (kind, line), (other, shown) in pairwise(blocks) if kind]
    assert len(steps) == 8
    for line, shown in steps:
        name, *words = shlex.split(line)
        ended = reaccord(*words, cwd=tmp_path)
        assert (name, ended.code) == ("reaccord", 0), ended.err
        assert not missing(shown, ended.out), ended.out
    made = {path.name for path in (tmp_path / "lavender").iterdir()}
    assert {"study.toml", "formula.csv", "sheet.csv", "additions.csv", "result.html", "record.jsonl"} <= made
