"""Published programmes and their published answers, through our three doors.

Outside check: blending, diet, portfolio and food problems from books and papers, and the worked examples of a
general-purpose package. The figures and their sources stand in `published_programmes.py`; each answer stands here
beside its own source. All but the last four are stated as our `Programme`; those have amounts below zero, so they
go to the same solvers with the same settings in their own form.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import cvxpy as cp
import numpy as np
import pytest
from tests.reference import published_programmes as published

from reaccord.contract import Answer, Budget, Measure, Programme
from reaccord.solvers import exact, linear, reference
from reaccord.solvers.cvxpy_runs import HIGHS, run, run_clarabel

pytest.importorskip("pyscipopt", reason="SCIP comes with the extra `test`")

Door = Callable[[Programme, Budget], Answer]
FINE = Budget(gap=1e-6, seconds=60)
DOORS: tuple[tuple[Measure, Door], ...] = (
    ("absolute", linear.solve),
    ("absolute", reference.solve),
    ("squares", exact.solve),
    ("squares", reference.solve),
)
EVERY_DOOR = pytest.mark.parametrize(
    ("measure", "door"), DOORS, ids=["linear", "reference", "exact", "reference squares"]
)
SQUARES = pytest.mark.parametrize("door", [exact.solve, reference.solve], ids=["exact", "reference"])


def proven(programme: Programme, door: Door) -> tuple[float, dict[str, float]]:
    """Return the deviation (squares: its root) and the amounts used, by name; assert that they are proven."""
    answer = door(programme, FINE)
    assert answer.status == "proven"
    assert answer.amounts is not None
    assert programme.excess(answer.amounts) <= 1e-7
    assert answer.bound <= answer.value
    used = {name: float(x) for name, x in zip(programme.columns, answer.amounts, strict=True) if x > 1e-8}
    return math.sqrt(answer.value) if programme.measure == "squares" else answer.value, used


@EVERY_DOOR
def test_alloy(measure: Measure, door: Door) -> None:
    cost, used = proven(published.alloy(measure), door)
    assert cost == pytest.approx(4.98, rel=1e-7)  # Dantzig 1963, section 3.4: 4.98 a pound
    assert used == pytest.approx({"B": 0.6, "D": 0.4}, rel=1e-5)


@EVERY_DOOR
def test_diet(measure: Measure, door: Door) -> None:
    dollars, used = proven(published.diet(measure), door)
    # the optimum of Stigler's table (1945): 0.10866227820675685 dollars a day, 39.66 a year
    assert dollars == pytest.approx(0.10866227820675685, rel=1e-8)
    assert dollars * 365 == pytest.approx(39.66, abs=0.005)
    del used["kept"]
    assert {food: day * 365 for food, day in used.items()} == pytest.approx(
        {
            "flour": 10.774457511918223,
            "liver": 0.6907834111074193,
            "cabbage": 4.093268864842877,
            "spinach": 1.8277960703546996,
            "navybeans": 22.275425687243036,
        },
        rel=1e-5,
    )


@EVERY_DOOR
def test_feed(measure: Measure, door: Door) -> None:
    _, used = proven(published.feed(measure), door)
    # limSolve, example `Blending`: 0.5909, 0.1364, 0.2727
    assert used == pytest.approx({"first": 0.5909, "second": 0.1364, "third": 0.2727}, abs=5e-5)


@EVERY_DOOR
def test_small_linear_programme(measure: Measure, door: Door) -> None:
    value, used = proven(published.small_linear(measure), door)
    assert used == pytest.approx({"x3": 2.0}, abs=1e-6)  # limSolve, `linp`: 0, 0, 2, 0
    assert 2.0 * value - 2.0 * 2.0 == pytest.approx(-2.0, abs=1e-6)  # and cost -2; 2 were added to each


@EVERY_DOOR
def test_algae(measure: Measure, door: Door) -> None:
    value, used = proven(published.algae(measure), door)
    assert value == pytest.approx(0.0, abs=1e-8)
    # limSolve, example `Chemtax`: no printed answer; least squares by three solvers outside this project
    shares = (0.18614755, 0.00936171, 0.02486524, 0.00853614, 0.22291470, 0.05152475, 0.00686866, 0.48978125)
    assert list(used.values()) == pytest.approx(shares, abs=1e-7)


@SQUARES
def test_three_of_four_assets(door: Door) -> None:
    root, used = proven(published.three_assets("squares"), door)
    assert root**2 == pytest.approx(2.925, rel=1e-7)  # MINLPLib, `alan`
    assert len(used) <= 3


@SQUARES
def test_portfolio_revision(door: Door) -> None:
    programme, above = published.revision("squares")
    root, used = proven(programme, door)
    assert root**2 - above == pytest.approx(14.36923211, rel=1e-8)  # MINLPLib, `meanvarx`
    assert all(
        used[name] >= least for name, least in zip(programme.columns, programme.minimum, strict=True) if name in used
    )
    assert not any(
        f"{name} down" in used for name in ("cn", "fr", "gr", "jp", "sw", "uk", "us") if f"{name} up" in used
    )


@pytest.mark.parametrize("door", [linear.solve, reference.solve], ids=["linear", "reference"])
@pytest.mark.parametrize(("second", "profit"), [(False, 107_842.5926), (True, 100_278.7037)], ids=["part 1", "part 2"])
def test_food_manufacture(door: Door, second: bool, profit: float) -> None:
    # Williams, solutions 12.1 and 12.2: 107,843 and 100,279; the plan is not unique, so only its value is tested
    programme = published.foods("absolute", second)
    cost, used = proven(programme, door)
    assert published.SALES - cost * programme.batch_g == pytest.approx(profit, abs=1e-4)
    if second:
        for month in published.MONTHS:
            oils = [oil for oil in published.OILS if f"use {month} {oil}" in used]
            assert len(oils) <= 3
            assert all(used[f"use {month} {oil}"] >= 20.0 - 1e-6 for oil in oils)
            assert "OIL3" in oils or not {"VEG1", "VEG2"} & set(oils)


def test_food_manufacture_in_squares() -> None:
    programme = published.foods("squares", True)
    root, _ = proven(programme, reference.solve)
    assert published.SALES - root * programme.batch_g == pytest.approx(100_278.7037, abs=1e-3)


def test_bound_of_the_exact_door_holds_where_it_cannot_prove() -> None:
    # far from a shelf: 84 columns, stores and balances; the published optimum must still not be below the bound
    programme = published.foods("squares", True)
    optimum = ((published.SALES - 100_278.7037) / programme.batch_g) ** 2
    answer = exact.solve(programme, Budget(gap=1e-6, seconds=3))
    assert answer.bound <= optimum * (1 + 1e-8)
    if answer.amounts is not None:
        assert answer.value >= optimum * (1 - 1e-8)


# limSolve, help pages of lsei, ldei and linp: K. Soetaert, K. Van den Meersche, D. van Oevelen
OVER_A = np.array([[3.0, 2.0, 1.0], [1.0, 0.0, 0.0], [2.0, 0.0, 2.0], [0.0, 1.0, 0.0]])
OVER_B = np.array([2.0, 1.0, 8.0, 3.0])
EQUAL_E = np.array([[3.0, 2.0, 1.0, 4.0], [1.0, 1.0, 1.0, 1.0]])
EQUAL_F = np.array([2.0, 2.0])
LEAST_G = np.array([[2.0, 1.0, 1.0, 1.0], [-1.0, 3.0, 2.0, 1.0], [-1.0, 0.0, 1.0, 0.0]])
LEAST_H = np.array([-1.0, 2.0, 1.0])


def settled(
    objective: Any, rules: list[Any], x: Any, through: Callable[[Any], bool] = run_clarabel
) -> tuple[Any, float]:
    """Return the answer of a plain cvxpy problem by our runs, with their tolerances."""
    problem = cp.Problem(cp.Minimize(objective), rules)
    assert through(problem)
    return x.value, float(problem.value)


def test_least_squares_without_limits() -> None:
    x = cp.Variable(3)
    amounts, value = settled(cp.sum_squares(OVER_A @ x - OVER_B), [], x)
    assert amounts == pytest.approx([-1.1621622, 0.8378378, 4.8918919], abs=1e-7)
    assert value == pytest.approx(10.81081, abs=1e-5)


def test_least_squares_with_limits() -> None:
    x = cp.Variable(3)
    rules = [np.array([[-1.0, 2.0, 0.0], [1.0, 0.0, -1.0]]) @ x >= np.array([-3.0, 2.0])]
    amounts, value = settled(cp.sum_squares(OVER_A @ x - OVER_B), rules, x)
    assert amounts == pytest.approx([2.04142012, -0.47928994, 0.04142012], abs=1e-7)
    assert value == pytest.approx(38.17751, abs=1e-5)


def test_least_squares_with_equalities() -> None:
    x = cp.Variable(4)
    rules = [EQUAL_E @ x == EQUAL_F, LEAST_G @ x >= LEAST_H]
    amounts, _ = settled(cp.sum_squares(x), rules, x)
    assert amounts == pytest.approx([0.2, 0.8, 1.4, -0.4], abs=1e-7)
    near = np.array([[2.0, 2.0, 1.0, 6.0], [1.0, -1.0, 1.0, -1.0]]) @ x - np.array([1.0, 2.0])
    amounts, _ = settled(cp.sum_squares(near), rules, x)
    assert amounts == pytest.approx([1 / 3, 1 / 3, 5 / 3, -1 / 3], abs=1e-6)


def test_linear_programme_below_zero() -> None:
    x = cp.Variable(4)
    rules = [EQUAL_E @ x == EQUAL_F, LEAST_G @ x >= LEAST_H]
    through = lambda problem: run(problem, "SCIPY", scipy_options=dict(HIGHS))  # noqa: E731
    amounts, value = settled(np.array([1.0, 2.0, -1.0, 4.0]) @ x, rules, x, through)
    assert amounts == pytest.approx([-3.0, -6.75, 7.5, 4.25], abs=1e-8)
    assert value == pytest.approx(-7.0, abs=1e-8)
