"""The series and the spread that the README shows are what the program prints."""

from __future__ import annotations

import re
import shlex

import pytest
from tests.cli.process import reaccord
from tests.docs.papers import ROOT, blocks, section
from tests.docs.test_readme_runs import same


@pytest.mark.parametrize("heading", ["One constituent at several strengths", "Natural variation"])
def test_the_output_shown_is_the_output(heading: str) -> None:
    words = section("README.md", heading)
    (command,), (shown,) = blocks(words, "bash"), blocks(words)
    ended = reaccord(*shlex.split(command)[1:], "--quiet", cwd=ROOT)
    assert ended.code == 0
    same(coarse(shown), coarse(ended.out))


def coarse(words: str) -> str:
    """Blank the last digits, which another processor or another seed of the search may turn."""
    return re.sub(r"(?<=\d\.\d)\d+", "~", words)
