"""One budget for all that takes time: gap, seconds, what interrupts, and what of the time is left."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest

from reaccord.contract import Budget


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Stand in for the clock: the last number is the time."""
    now = [100.0]
    monkeypatch.setattr(time, "perf_counter", lambda: now[-1])
    return now


def test_nothing_runs_before_it_is_begun(clock: list[float]) -> None:
    budget = Budget(seconds=5)
    clock.append(1000.0)
    assert (budget.elapsed(), budget.left(), budget.over()) == (0, 5, False)
    running = budget.running()
    clock.append(1003.0)
    assert (running.elapsed(), running.left(), running.over()) == (3, 2, False)
    assert running.running() is running
    clock.append(1009.0)
    assert (running.elapsed(), running.left(), running.over()) == (9, 0, True)
    assert budget.running().left() == 5, "the same budget again"


def test_the_rest_is_what_is_left_and_its_clock_does_not_run_yet(clock: list[float]) -> None:
    start, told = np.ones(2), []
    budget = Budget(0.1, 8, progress=lambda *numbers: told.append(numbers), start=start).running()
    clock.append(102.0)
    rest, quarter = budget.rest(), budget.rest(0.25, start=start)
    clock.append(104.0)
    assert (rest.gap, rest.left(), rest.progress, rest.start) == (0.1, 6, None, None)
    assert (quarter.left(), quarter.start) == (1.5, start)
    assert budget.left() == 4


def test_without_an_end_only_a_request_ends_it(clock: list[float]) -> None:
    pressed: list[int] = []
    budget = Budget(stop=lambda: bool(pressed)).running()
    clock.append(1e9)
    assert (budget.left(), budget.rest(0.25).left(), budget.over()) == (math.inf, math.inf, False)
    pressed.append(1)
    assert budget.over()
    assert budget.rest().over()
