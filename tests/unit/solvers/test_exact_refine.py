"""Proof to the last digits: a node with nothing left to decide proves what its own formula comes to."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from tests.random_programmes import realistic, small
from tests.random_studies import draw
from tests.unit.solvers.hand import limited, singles
from tests.whole_search import whole_search

from reaccord.contract import Budget, FloatArray, Programme, gap_of
from reaccord.programme import state as stated
from reaccord.solvers.exact import heuristic, solve
from reaccord.solvers.exact.bound import bound_of
from reaccord.solvers.exact.formula import BoolArray, Formula
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.node_qp import full
from reaccord.solvers.exact.presolve import presolve
from reaccord.solvers.exact.qp import Point, solve_quadratic
from reaccord.solvers.exact.refine import refined
from reaccord.solvers.exact.scaled import OFF, ON, cleaned, scale

SHORT = {2630: 1.3e-3, 2392: 1.1e-2, 646: 0.5, 272: 0.5, 2316: 7.8e-5, 2477: 2.7e-5, 159: 6.8e-6, 199: 6.0e-7}
"""Draws that ended unproven while DAQP's duals had the last word, and what was missing of the value."""
TO_ROUNDING = 1e-10


@cache
def drawn(seed: int) -> Programme:
    return replace(stated(draw(seed).study()), measure="squares")


@pytest.mark.parametrize("seed", SHORT)
def test_what_is_searched_to_the_end_is_proven(seed: int) -> None:
    gap = min(1e-3, SHORT[seed] / 10)
    coarse, fine = (solve(drawn(seed), Budget(gap=gap, seconds=60)) for gap in (gap, 1e-8))
    assert coarse.status == fine.status == "proven"
    assert gap_of(fine.value, fine.bound) <= 1e-8
    assert coarse.bound <= fine.value * (1 + 1e-12) <= coarse.value * (1 + 1e-11)


@pytest.mark.parametrize(("seed", "gap"), [(166, 1e-3), (341, 1e-3), (2068, 1e-6), (411, 1e-8), (2406, 1e-8)])
def test_where_the_row_hull_has_no_more_digits_the_plain_squares_go_on(seed: int, gap: float) -> None:
    # thousands of nodes in half a minute and no proof while the row hull alone was asked
    answer = solve(drawn(seed), Budget(gap=gap, seconds=60))
    assert answer.status == "proven"
    assert answer.nodes < 200


def decided(programme: Programme) -> tuple[float, float, float]:
    """Return the best formula's value by `refined`, what it proves for its columns, and what DAQP's own duals prove."""
    answer = whole_search(programme, Budget(gap=1e-6, seconds=60))
    assert answer.amounts is not None
    scaled = presolve(scale(cleaned(programme)))
    model = Model(scaled)
    poured = (answer.amounts > 0) | scaled.helpers
    state, columns = np.where(poured, ON, OFF).astype(np.int8), np.flatnonzero(poured)
    quadratic = model.restricted(state, columns)
    rough = solve_quadratic(quadratic)
    assert rough is not None
    found = []
    for point in (refined(model, columns, quadratic, rough), rough):
        amounts, duals = full(model, state, columns, point)
        found.append((scaled.value(amounts), bound_of(scaled, state, amounts, duals).value))
    return found[0][0], found[0][1], found[1][1]


PROGRAMMES = {f"draw {seed}": drawn for seed in SHORT} | {f"small {seed}": small for seed in (0, 3, 8, 11, 21, 40)}


@pytest.mark.parametrize("name", [*PROGRAMMES, "shelf"])
def test_a_decided_node_proves_its_own_formula(name: str) -> None:
    make = PROGRAMMES.get(name)
    programme = realistic(30, 28, 3) if make is None else make(int(name.split()[1]))
    value, bound, _ = decided(programme)
    assert value > 1e-9
    assert bound == pytest.approx(value, rel=TO_ROUNDING)


def test_the_rough_duals_fall_short() -> None:
    value, _, rough = decided(drawn(2630))
    assert rough < value * (1 - 1e-5)


def off_by(programme: Programme, point: FloatArray) -> tuple[float, FloatArray]:
    """Return value and amounts over all columns ON, refined from a point of one's own without any dual."""
    scaled = presolve(scale(programme))
    model, columns = Model(scaled), np.arange(len(point))
    state = np.full(len(point), ON, dtype=np.int8)
    rows = 1 + len(scaled.most)
    start = Point(point, np.zeros(rows), np.zeros(len(point)))
    ended = refined(model, columns, model.restricted(state, columns), start)
    amounts, duals = full(model, state, columns, ended)
    assert bound_of(scaled, state, amounts, duals).value == pytest.approx(scaled.value(amounts), rel=TO_ROUNDING)
    return scaled.value(amounts), amounts


def test_it_finds_the_limits_that_stand_in_the_way() -> None:
    # by hand: 0.5, 0.3, 0.2 wanted, at most 0.4 of the first; the 0.1 left over is shared
    programme = limited(singles([0.5, 0.3, 0.2], batch_g=1.0), 0.4, amounts=[1.0, 0.0, 0.0])
    value, amounts = off_by(programme, np.array([0.1, 0.1, 0.8]))
    assert amounts == pytest.approx([0.4, 0.35, 0.25], abs=1e-14)
    assert value == pytest.approx(0.1**2 + 2 * 0.05**2, rel=1e-13)


def test_it_finds_the_minima_that_stand_in_the_way() -> None:
    # by hand: the third cannot be under 0.3; the 0.1 too much is taken from the others
    value, amounts = off_by(singles([0.5, 0.3, 0.2], [0.0, 0.0, 0.3], batch_g=1.0), np.array([0.1, 0.1, 0.8]))
    assert amounts == pytest.approx([0.45, 0.25, 0.3], abs=1e-14)
    assert value == pytest.approx(0.1**2 + 2 * 0.05**2, rel=1e-13)


def test_limits_said_twice_leave_the_proof_whole() -> None:
    once = limited(singles([0.5, 0.3, 0.2], batch_g=1.0), 0.4, amounts=[1.0, 0.0, 0.0])
    twice = limited(limited(once, 0.8, amounts=[2.0, 0.0, 0.0]), -0.6, amounts=[0.0, -1.0, -1.0])
    value, amounts = off_by(twice, np.array([0.4, 0.3, 0.3]))
    assert amounts == pytest.approx([0.4, 0.35, 0.25], abs=1e-14)
    assert value == pytest.approx(0.1**2 + 2 * 0.05**2, rel=1e-13)


def test_columns_that_cannot_be_had_hide_no_others(monkeypatch: pytest.MonkeyPatch) -> None:
    """A node whose amounts keep every switch but give no formula is decided further, not closed."""
    # the third brings half as much again of the first, and 0.2 of something unwanted: best without it
    content = np.array([[1.0, 0.0, 1.5], [0.0, 1.0, 0.0], [0.0, 0.0, 2.0]])
    programme = replace(singles([0.6, 0.3, 0.0], 0.1, batch_g=1.0), content=content)
    best = solve(programme, Budget(gap=1e-8))
    assert best.status == "proven"
    assert best.amounts == pytest.approx([0.65, 0.35, 0.0])
    made = heuristic.on_columns

    def without_the_best(
        programme: Programme, model: Model, support: BoolArray, *how: Any, fine: bool
    ) -> Formula | None:
        return None if support.tolist() == [True, True, False] else made(programme, model, support, *how, fine=fine)

    monkeypatch.setattr(heuristic, "on_columns", without_the_best)
    second = whole_search(programme, Budget(gap=1e-8))
    # by hand: 0.1 of the third and 0.9 of the others; the first two rows share what is too much, 0.15
    assert second.status == "feasible"
    assert second.amounts == pytest.approx([0.525, 0.375, 0.1])
    assert second.value == pytest.approx(2 * 0.075**2 + 0.2**2)
    assert second.bound == pytest.approx(best.value)
