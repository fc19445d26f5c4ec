"""When the time is up little more is solved, counted, not timed; and what is solved stays small."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import clarabel
import daqp
import numpy as np
import pytest
from tests.random_programmes import realistic, small

from reaccord.contract import Budget, FloatArray, Programme
from reaccord.solvers import highs
from reaccord.solvers.exact import formula, heuristic, solve
from reaccord.solvers.exact.feasibility import relaxed_price, relaxed_rows
from reaccord.solvers.exact.presolve import presolve
from reaccord.solvers.exact.propagate import least_activity
from reaccord.solvers.exact.qp import Point, Quadratic, solve_quadratic
from reaccord.solvers.exact.scaled import OFF, ON, scale

SOLVES, STEPS = 5, 50
"""What is still done once the time is up, and at most between two looks: what a first formula takes.

A step is a column of the relaxation that is let in or not; it solves nothing.
"""
KINDS = ["dilutions", "lines", "plain"]


def made_from_a_small_bottle(programme: Programme) -> Programme:
    """Return the programme with grams made of every dilution, at least 0.5 g, from 20 g of carrier."""
    diluted = [columns[0] for strengths in programme.strengths for columns in strengths[1:]]
    n, more = len(programme.columns), len(diluted)

    def wider(numbers: FloatArray, fill: float = 0.0) -> FloatArray:
        return np.concatenate([numbers, np.full(more, fill)])

    rows = [replace(row, amounts=wider(row.amounts), used=wider(row.used)) for row in programme.limits]
    nothing = np.zeros(n + more)
    for made, column in enumerate(diluted, start=n):
        grams, poured, used = nothing.copy(), nothing.copy(), nothing.copy()
        grams[made], poured[column], used[column] = -1.0, 1.0, 0.5
        rows.append(replace(rows[0], label=f"made {column}", amounts=grams + poured, used=nothing, most=0.0))
        rows.append(replace(rows[0], label=f"at least {column}", amounts=grams, used=used, most=0.0))
    rows.append(replace(rows[0], label="carrier", amounts=wider(np.zeros(n), 0.9), used=nothing, most=20.0))
    return replace(
        programme,
        columns=(*programme.columns, *(f"made: {programme.columns[column]}" for column in diluted)),
        content=np.hstack([programme.content, np.zeros((len(programme.rows), more))]),
        basis=wider(programme.basis),
        minimum=wider(programme.minimum),
        maximum=wider(programme.maximum, np.inf),
        limits=tuple(rows),
    )


def shelf(bottles: int = 50, seed: int = 1) -> Programme:
    """Return a shelf with every bottle diluted twice."""
    return made_from_a_small_bottle(realistic(60, bottles, seed, strengths=(0.1, 0.01)))


class Watch:
    """A clock that says stop after a number of looks; counts what is done between looks and after the last."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, looks: float = math.inf) -> None:
        self.looks, self.asked = looks, 0
        self.solves, self.steps = Between(), Between()
        for count, owner, name in (
            (self.solves, daqp, "solve"),
            (self.solves, clarabel, "DefaultSolver"),
            (self.solves, highs, "solve"),
            (self.solves, np.linalg, "lstsq"),
            (self.steps, heuristic, "propagate"),
        ):
            monkeypatch.setattr(owner, name, self._counted(count, getattr(owner, name)))

    def _counted(self, count: Between, function: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*what: Any, **how: Any) -> Any:
            count.one(over=self.asked > self.looks)
            return function(*what, **how)

        return counted

    def stop(self) -> bool:
        """Say stop after enough looks."""
        self.asked += 1
        self.solves.now = self.steps.now = 0
        return self.asked > self.looks


@dataclass
class Between:
    """How often something was done since the last look, at most between two looks, and once it was over."""

    now: int = 0
    most: int = 0
    over: int = 0

    def one(self, *, over: bool) -> None:
        """Count one."""
        self.now += 1
        self.most = max(self.most, self.now)
        self.over += over


@pytest.mark.parametrize("looks", [0, 1, 2, 3, 5, 8, 13, 21, 34, 55, 89, 144])
@pytest.mark.parametrize("programme", [shelf(), realistic(60, 60, 1, lines=12), realistic(60, 60, 1)], ids=KINDS)
def test_little_is_solved_once_the_time_is_up(
    monkeypatch: pytest.MonkeyPatch, looks: int, programme: Programme
) -> None:
    watch = Watch(monkeypatch, looks)
    answer = solve(programme, Budget(gap=1e-9, stop=watch.stop))
    assert watch.solves.over <= SOLVES
    assert watch.steps.over <= STEPS
    assert answer.amounts is not None
    assert programme.excess(answer.amounts) <= 1e-9
    assert answer.bound <= answer.value


@pytest.mark.parametrize("programme", [shelf(), realistic(60, 60, 1, lines=12), realistic(60, 60, 1)], ids=KINDS)
def test_the_clock_is_looked_at_between_a_few_solves(monkeypatch: pytest.MonkeyPatch, programme: Programme) -> None:
    watch = Watch(monkeypatch, 400)
    solve(programme, Budget(gap=1e-4, stop=watch.stop))
    assert watch.solves.most <= SOLVES
    assert watch.steps.most <= STEPS


@pytest.mark.parametrize("looks", [3, 34])
def test_grams_made_of_what_is_not_poured_are_no_column(monkeypatch: pytest.MonkeyPatch, looks: int) -> None:
    programme, sizes = shelf(), []

    def noted(quadratic: Quadratic) -> Point | None:
        sizes.append(len(quadratic.linear))
        return solve_quadratic(quadratic)

    monkeypatch.setattr(formula, "solve_quadratic", noted)
    answer = solve(programme, Budget(gap=1e-4, stop=Watch(monkeypatch, looks).stop))
    assert answer.amounts is not None
    bands = int((programme.high > programme.low).sum())
    helpers = sum(label.startswith("made: ") for label in programme.columns)
    assert helpers == 100
    assert max(sizes) <= 2 * (answer.amounts > 0).sum() + bands < helpers


def test_grams_made_are_those_that_what_is_poured_asks_for() -> None:
    programme = shelf(30, 2)
    answer = solve(programme, Budget(gap=1e-6))
    assert answer.status == "proven"
    assert answer.amounts is not None
    made = dict(zip(programme.columns, answer.amounts.tolist(), strict=True))
    poured = {label: made[label.removeprefix("made: ")] for label in made if label.startswith("made: ")}
    assert any(poured.values())
    for label, grams in poured.items():
        assert made[label] == 0.0 if grams == 0 else made[label] >= max(0.5, grams) - 1e-9


@pytest.mark.parametrize("seed", range(40))
def test_limits_are_what_the_whole_matrix_is(seed: int) -> None:
    scaled = presolve(scale(small(seed)))
    rng, limits = np.random.default_rng(seed), scaled.limits
    x, duals, used = rng.random(len(scaled.basis)), rng.random(len(scaled.most)), rng.random(len(scaled.basis)) < 0.5
    assert limits.reached(x) == pytest.approx(scaled.amounts @ x, abs=1e-12)
    assert limits.switched(used) == pytest.approx(scaled.used @ used, abs=1e-12)
    assert limits.priced(duals) == pytest.approx(duals @ scaled.amounts, abs=1e-12)
    assert limits.charged(duals) == pytest.approx(duals @ scaled.used, abs=1e-12)
    state = rng.integers(OFF, ON + 1, len(used)).astype(np.int8)
    finite = np.minimum(scaled.maximum, 1e6)
    least = scaled.amounts * np.where(scaled.amounts < 0, finite, scaled.minimum) + scaled.used
    chosen = np.where(state == ON, least, np.where(state == OFF, 0.0, np.minimum(least, 0.0)))
    assert least_activity(scaled.with_maximum(finite), state) == pytest.approx(chosen.sum(axis=1), abs=1e-9)
    columns = np.flatnonzero(used)
    rows, most = relaxed_rows(scaled, state, columns)
    assert relaxed_price(scaled, state, duals)[columns] == pytest.approx(duals @ rows, abs=1e-12)
    assert most == pytest.approx(scaled.most - scaled.used @ (state == ON), abs=1e-12)
