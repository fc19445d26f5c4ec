"""What the page of choices shows of each command is what the command prints."""

from __future__ import annotations

from itertools import pairwise

import pytest
from tests.docs.papers import ROOT, fenced
from tests.docs.shown import called, missing

from reaccord.cli.streams import NO_TERMINAL
from reaccord.manual import pages

SHOWN = [
    (line, shown) for (kind, line), (other, shown) in pairwise(fenced(pages.page("choices"))) if kind and not other
]


@pytest.mark.parametrize(("line", "shown"), SHOWN, ids=[line.split()[1] for line, _ in SHOWN])
def test_the_output_shown_is_the_output(line: str, shown: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    real = called(line).text(NO_TERMINAL)
    assert not missing(shown, real), real
