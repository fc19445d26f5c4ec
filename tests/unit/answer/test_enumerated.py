"""What is called proven on the grid is the least of all points of the grid over the same stocks."""

from __future__ import annotations

from itertools import product

import numpy as np
from tests.coarse_studies import coarse
from tests.random_studies import draw
from tests.seeds import seeds

from reaccord.answer.rounding.enumerated import closest_enumerated
from reaccord.answer.rounding.grid import Grid, better
from reaccord.answer.rounding.steps import improved, nearest
from reaccord.contract import Budget, FloatArray, Programme
from reaccord.findings import InvalidInput
from reaccord.programme import state
from reaccord.solvers.choose import solve

MOST = 200_000


def rounded(programme: Programme) -> tuple[Grid, FloatArray, FloatArray] | None:
    """Return the grid of the optimum's stocks, the optimum and what the search by steps makes of it."""
    answer = solve(programme, Budget(1e-3, 5.0))
    if answer.amounts is None or not (programme.step[answer.amounts > 0] > 0).any():
        return None
    grid = Grid(programme, answer.amounts, np.flatnonzero((answer.amounts > 0) & ~programme.helpers))
    before = grid.narrowed(answer.amounts)
    found = improved(grid, nearest(grid, before))
    return (grid, before, found) if grid.rank(found)[0] <= 0 else None


def least(grid: Grid) -> float | None:
    """Return the least deviation of all formulas of these stocks; None if they are too many to try."""
    ways = []
    for step, low, high, basis in zip(grid.steps, grid.least, grid.maximum, grid.basis, strict=True):
        if step <= 0 or basis <= 0:
            return None
        end = min(high, 1.5 * grid.batch / basis)
        ways.append(step * np.arange(np.ceil(low / step - 1e-9), np.floor(end / step + 1e-9) + 1))
    if np.prod([float(len(way)) for way in ways]) > MOST:
        return None
    formulas = np.array(list(product(*ways))).T
    if not formulas.size:
        return None
    excess, value = grid.ranks(formulas)
    return float(np.where(excess <= 0, value, np.inf).min())


@seeds(0, 12, 120, 2000)
def test_proven_is_the_least_of_all_points(seed: int) -> None:
    draft = coarse(seed)
    draft.settings["fit"]["measure"] = "squares"
    try:
        met = rounded(state(draft.study()))
    except InvalidInput:
        return
    if met is None:
        return
    grid, before, found = met
    closest, proven = closest_enumerated(grid, before, found)
    assert not better(grid.rank(found), grid.rank(closest))  # twins in proportion differ by noise
    truth = least(grid)
    if proven and truth is not None:
        np.testing.assert_allclose(grid.rank(closest)[1], truth, rtol=1e-7, atol=1e-12)


@seeds(0, 6, 80, 1500)
def test_no_search_by_steps_comes_closer_than_what_is_proven(seed: int) -> None:
    try:
        met = rounded(state(draw(seed, measure="squares", balance=True).study()))
    except InvalidInput:
        return
    if met is None:
        return
    grid, before, found = met
    closest, proven = closest_enumerated(grid, before, nearest(grid, before))
    if proven and grid.rank(closest)[0] <= 0:
        assert grid.rank(closest)[1] <= grid.rank(found)[1] * (1 + 1e-9)


def test_most_coarse_formulas_are_proven() -> None:
    told = []
    for seed in range(25):
        draft = coarse(seed)
        draft.settings["fit"]["measure"] = "squares"
        met = rounded(state(draft.study()))
        if met is not None and met[0].rank(met[2])[1] > 1e-9:
            told.append(closest_enumerated(*met)[1])
    assert len(told) > 6
    assert sum(told) > 0.7 * len(told)


def test_another_measure_is_left_as_it_is() -> None:
    grid, before, found = next(
        met
        for seed in range(100)
        if (met := rounded(state(draw(seed, measure="absolute", balance=True).study()))) is not None
    )
    closest, proven = closest_enumerated(grid, before, found)
    assert closest is found
    assert not proven
