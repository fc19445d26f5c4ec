"""What a person reads while a search goes on: how wrong the best formula is, how much closer one could be."""

from __future__ import annotations

import io
from types import SimpleNamespace

import numpy as np
import pytest
from tests.tiny_study import tiny

from reaccord.cli import progress
from reaccord.cli.progress import Progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    terminal = Terminal()
    monkeypatch.setattr(progress, "PATIENCE", -1.0)
    monkeypatch.setattr(progress, "PAUSE", -1.0)
    monkeypatch.setattr(progress, "sys", SimpleNamespace(stderr=terminal))
    return terminal


def line(screen: Terminal) -> str:
    return screen.getvalue().rpartition("s  ")[2]


def test_what_is_wrong_of_the_formula_and_how_much_closer_one_can_be(screen: Terminal) -> None:
    """8 g of red and 2 g of green where 6 and 4 are wanted: 20 % of it is the wrong one."""
    study = tiny()
    shown = Progress(False, study)
    shown(float("inf"), 0.0, 1)
    assert line(screen) == "no formula yet"
    amounts = {"Red": 8.0, "Green": 2.0}
    shown.found(np.array([amounts[stock.key.material] for stock in study.stocks]))
    shown(0.2, 0.0, 2)
    assert line(screen) == "closest so far 20.0 % wrong", "a bound of nothing says nothing"
    shown(0.2, 0.15, 30)
    assert line(screen) == "closest so far 20.0 % wrong; nothing can be more than 25 % closer"
    shown.done()
    assert screen.getvalue().endswith("\r\033[K")


def test_a_search_that_does_not_tell_its_formula(screen: Terminal) -> None:
    Progress(False, tiny())(0.2, 0.1, 3)
    assert line(screen) == "a formula is found; nothing can be more than 50 % closer"


def test_the_cost(screen: Terminal) -> None:
    Progress(False, tiny(), cost=True)(61.8, 60.1, 3)
    assert line(screen) == "cheapest so far 61.80 per kg; nothing as close can cost less than 60.10"


def test_nobody_asked(screen: Terminal) -> None:
    Progress(True, tiny())(0.2, 0.1, 3)
    assert not screen.getvalue()


def test_a_bar_counts_in_words(screen: Terminal) -> None:
    with progress.bar(False, "points", 12) as told:
        assert told is not None
        told(3, 12)
    assert "3 of 12 points" in screen.getvalue()
    assert "0/?" not in screen.getvalue()
