"""Rounding against every grid point within two steps of the optimum, and where no neighbour holds the limits."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from tests.random_studies import draw
from tests.seeds import seeds
from tests.tiny_study import CARRIER, GREEN, RED, tiny

from reaccord.answer.rounding import round_amounts
from reaccord.contract import Budget, FloatArray, LimitRow, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.programme import state
from reaccord.solvers.choose import solve
from reaccord.study.smallest_mass import on_grid

MOST_LINES = 5
SLACK = 1e-3
"""Relative; pairs of single steps may stop this little short of the best of all neighbours."""


def with_helpers(programme: Programme, amounts: FloatArray) -> FloatArray:
    """Return amounts with each helper column at the least its rows ask for."""
    found, used = amounts.copy(), (amounts > 0).astype(float)
    for column in np.flatnonzero(programme.helpers):
        rows = [r for r in programme.limits if r.key.kind == "made" and r.amounts[column] == -1]
        found[column] = 0.0
        found[column] = max(float(r.amounts @ found + r.used @ used) - r.most for r in rows)
    return found


def holds(programme: Programme, amounts: FloatArray, grid: FloatArray) -> bool:
    """Whether all limits hold; the batch may be missed by one step for each line that holds some of it."""
    missed = abs(float(programme.basis @ amounts) - programme.batch_g)
    if missed > grid[(amounts > 0) & (programme.basis > 0)].sum() * (1 + 1e-9):
        return False
    return on_basis(programme, amounts).excess(with_helpers(programme, amounts)) <= 1e-10


def value(programme: Programme, amounts: FloatArray) -> float:
    return on_basis(programme, amounts).value(amounts)


def on_basis(programme: Programme, amounts: FloatArray) -> Programme:
    """Return the programme whose shares divide by the basis that amounts reach."""
    return replace(programme, batch_g=float(programme.basis @ amounts))


def best_neighbour(programme: Programme, optimum: FloatArray, grid: FloatArray) -> float:
    """Return the least value over all grid points within two steps that hold; infinite if none does."""
    lines = np.flatnonzero((optimum > 0) & (grid > 0))
    least = np.inf
    for moves in itertools.product(range(-2, 3), repeat=len(lines)):
        amounts = optimum.copy()
        counts = np.round(optimum[lines] / grid[lines]) + moves
        if (counts < 1).any():
            continue
        amounts[lines] = counts * grid[lines]
        if holds(programme, amounts, grid):
            least = min(least, value(programme, amounts))
    return least


def small_case(seed: int) -> tuple[Programme, FloatArray, FloatArray] | None:
    """Return a programme, its optimum and grid if few lines are used; the grid is coarse on odd seeds."""
    draft = draw(seed, measure="squares", balance=True)
    if seed % 2:
        balance, batch = draft.settings["balance"], draft.settings["batch"]["accord_g"]
        balance["readability_g"] = batch / 100
        balance.pop("repeatability_g", None)
        draft.settings.get("limits", {}).pop("amount", None)
    study = draft.study()
    programme = state(study)
    grid = programme.step
    answer = solve(programme, Budget())
    if answer.amounts is None or np.count_nonzero(answer.amounts[grid > 0]) > MOST_LINES:
        return None
    return programme, answer.amounts, grid


@seeds(700, 720, 800, 1400)
def test_no_neighbour_is_closer(seed: int) -> None:
    case = small_case(seed)
    if case is None:
        return
    programme, optimum, grid = case
    least = best_neighbour(programme, optimum, grid)
    rounded = round_amounts(programme, optimum)
    if rounded is None:
        assert np.isinf(least)
        return
    assert holds(programme, rounded, grid)
    assert ((rounded > 0) == (optimum > 0))[grid > 0].all()
    assert value(programme, rounded) <= least * (1 + SLACK) + 1e-12


def test_without_a_grid_nothing_moves() -> None:
    programme = state(tiny())
    amounts = np.array([4.0000123, 5.9999877])
    assert round_amounts(programme, amounts) is amounts


def test_a_stock_without_a_grid_stays_where_it_is() -> None:
    """A dropper's step for Green only: Red is poured as it was, no helper column that a limit could set."""
    study = tiny(
        [RED, GREEN | {"step_g": "0.05"}],
        limits={"amount": [{"material": "Red", "at_least_g": 1}]},
    )
    rounded = round_amounts(state(study), np.array([4.0123, 5.9877]))
    assert rounded is not None
    assert rounded == pytest.approx([4.0, 5.9877])


def test_a_stock_without_a_grid_gives_way_to_a_limit() -> None:
    """Green's `at least` leaves 4.05 g only, and then the cost is over its limit: Red makes room."""
    study = tiny(
        [RED, GREEN | {"step_g": "0.05"}],
        limits={"cost_per_kg": 26.14, "amount": [{"material": "Green", "at_least_g": 4.035}]},
    )
    rounded = round_amounts(state(study), np.array([4.035, 5.965]))
    assert rounded is not None
    assert rounded[0] == pytest.approx(4.05)
    assert rounded[1] == pytest.approx(4.05 * (50 - 26.14) / (26.14 - 10), rel=1e-6)
    assert holds(state(study), rounded, state(study).step)


def test_minima_and_stock_on_the_grid_hold() -> None:
    study = tiny([RED | {"stock_g": "5.999"}, GREEN | {"minimum_g": "4.013"}], balance={"readability_g": 0.01})
    rounded = round_amounts(state(study), np.array([4.02, 5.98]))
    assert rounded is not None
    assert rounded[0] >= 4.02
    assert rounded[1] <= 5.99


def test_grams_made_follow_what_is_poured() -> None:
    study = tiny(
        [CARRIER | {"stock_g": "20"}, RED, GREEN],
        balance={"readability_g": 0.01, "minimum_g": 0.02},
        dilutions={"strengths": ["10 %"], "carrier": "dipropylene glycol"},
    )
    programme = state(study)
    amounts = np.zeros(len(programme.columns))
    amounts[[1, 4, 5]] = 0.123456, 9.9876544, 0.2  # Green made, Red, grams made of Green
    rounded = round_amounts(programme, amounts)
    assert rounded is not None
    assert rounded[5] == pytest.approx(max(rounded[1], 0.2))
    assert on_grid(float(f"{rounded[1]:.12g}"), 0.01)


def test_none_where_no_grid_point_holds() -> None:
    """Between 4.001 and 4.009 g lies no whole hundredth."""
    study = tiny(balance={"readability_g": 0.01})
    found = state(study)
    none = np.zeros(2)
    between = (
        LimitRow(LimitKey("restricted", ("low",)), "low", "low", np.array([-1.0, 0.0]), none, -4.001),
        LimitRow(LimitKey("restricted", ("high",)), "high", "high", np.array([1.0, 0.0]), none, 4.009),
    )
    assert round_amounts(replace(found, limits=between), np.array([4.005, 5.995])) is None


def test_far_repair_where_no_near_point_holds() -> None:
    """Green in steps of 0.5 g and Red in hundredths, cost exact at 40 to 60: only a larger move holds all."""
    study = tiny(
        [RED, GREEN | {"step_g": "0.5"}],
        balance={"readability_g": 0.01},
        limits={"cost_per_kg": 26},
    )
    rounded = round_amounts(state(study), np.array([3.9, 6.1]))
    assert rounded is not None
    assert holds(state(study), rounded, state(study).step)
