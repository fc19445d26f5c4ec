"""Near-duplicates decided together: bounds under demands stay below every formula, the answer is the best of all."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.correlated import correlated
from tests.seeds import seeds
from tests.whole_search import whole_search

from reaccord.contract import Answer, Budget, Programme
from reaccord.solvers.exact import solve
from reaccord.solvers.exact.bound import Duals, bound_of
from reaccord.solvers.exact.demands import propagated, unmet
from reaccord.solvers.exact.formula import on_columns
from reaccord.solvers.exact.lots import Lots
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.propagate import propagate
from reaccord.solvers.exact.record import Record
from reaccord.solvers.exact.row_hull import relax_hull
from reaccord.solvers.exact.scaled import FREE, OFF, ON, Scaled, cleaned, scale

LINES, BOTTLES = 3, 9


def drawn(seed: int) -> tuple[Programme, Scaled]:
    """Return a small programme with near-duplicates and a limit of lines."""
    programme = cleaned(correlated(15, BOTTLES, seed, LINES))
    return programme, scale(programme)


def values(programme: Programme, scaled: Scaled) -> dict[tuple[int, ...], float]:
    """Return the value of the best formula of every choice of columns that has one."""
    found, model = {}, Model(scaled)
    for count in range(1, LINES + 1):
        for columns in itertools.combinations(range(BOTTLES), count):
            formula = on_columns(programme, model, np.isin(np.arange(BOTTLES), columns))
            if formula is not None:
                found[columns] = formula.value
    return found


@seeds(0, 4, 60)
def test_no_formula_that_meets_the_demands_is_below_a_bound(seed: int) -> None:
    programme, scaled = drawn(seed)
    every, rng = values(programme, scaled), np.random.default_rng(seed)
    for _ in range(12):
        order = rng.permutation(BOTTLES)
        first, second = order[: rng.integers(1, 4)], order[4 : 4 + rng.integers(1, 4)]
        within = scaled.demanding(first).demanding(second)
        meeting = [v for c, v in every.items() if set(c) & set(first) and set(c) & set(second)]
        least = min(meeting, default=math.inf)
        state = propagate(within, within.first_state())
        if state is None:
            assert math.isinf(least)
            continue
        hull = relax_hull(within, state, np.ones(BOTTLES, dtype=bool), 1e-9, None)
        if hull is not None:
            assert hull.bound.value <= least * (1 + 1e-9)
        point = rng.exponential(0.2, BOTTLES)
        levels = scaled.content @ point * rng.uniform(0.5, 1.5, len(scaled.low))
        duals = Duals(float(rng.normal(0.0, 0.1)), rng.exponential(0.02, len(scaled.most)), levels)
        assert bound_of(within, state, point, duals).value <= least * (1 + 1e-9)


def is_best_of_all_choices(seed: int, door: Callable[[Programme, Budget], Answer]) -> None:
    """Assert that a door's answer to a drawn programme is the best that any choice of columns has."""
    programme, scaled = drawn(seed)
    best = min(values(programme, scaled).values(), default=math.inf)
    answer = door(programme, Budget(gap=1e-7, seconds=60.0))
    assert answer.status == ("infeasible" if math.isinf(best) else "proven")
    if answer.amounts is not None:
        assert answer.value == pytest.approx(best, rel=1e-6)


@pytest.mark.parametrize("door", [solve, whole_search])
@seeds(0, 5, 80)
def test_the_answer_is_the_best_of_all_choices(door: Callable[[Programme, Budget], Answer], seed: int) -> None:
    is_best_of_all_choices(seed, door)


@seeds(0, 2, 30)
def test_a_changed_programme_begins_from_a_tree_with_demands(seed: int) -> None:
    programme = correlated(40, 60, seed, 6)
    first = solve(programme, Budget(gap=1e-3, seconds=60.0))
    assert isinstance(first.warm, Record)
    fewer = [i for i in range(60) if i % 7 != seed % 7]
    limits = tuple(replace(row, amounts=row.amounts[fewer], used=row.used[fewer]) for row in programme.limits)
    changed = replace(
        programme,
        columns=tuple(programme.columns[i] for i in fewer),
        content=programme.content[:, fewer],
        basis=programme.basis[fewer],
        minimum=programme.minimum[fewer],
        maximum=programme.maximum[fewer],
        limits=limits,
        low=1.03 * programme.low,
        high=1.03 * programme.high,
    )
    cold = solve(changed, Budget(gap=1e-3, seconds=60.0))
    warm = solve(changed, Budget(gap=1e-3, seconds=60.0, warm=first.warm))
    assert cold.status == warm.status == "proven"
    assert warm.bound <= cold.value * (1 + 1e-9)
    assert cold.bound <= warm.value * (1 + 1e-9)


def test_some_nodes_of_that_tree_demand_one_of_several() -> None:
    answer = solve(correlated(40, 60, 0, 6), Budget(gap=1e-3, seconds=60.0))
    assert isinstance(answer.warm, Record)
    assert any(len(trace.demanded) > 1 for _, trace in answer.warm.traces)


def test_lots_are_columns_that_nearly_agree() -> None:
    _, scaled = drawn(0)
    twice = replace(scaled, content=scaled.content[:, [0, 0, 2, 3, 4, 5, 6, 2, 8]])
    material = Lots(twice, twice.first_state()).material
    assert material[0] == material[1] == 0
    assert material[2] == material[7] >= 0


def test_demands_switch_what_has_no_choice() -> None:
    _, scaled = drawn(0)
    within = scaled.demanding(np.array([0, 1])).demanding(np.array([2, 3])).demanding(np.array([4, 5]))
    state = np.full(BOTTLES, FREE)
    state[0] = OFF
    assert propagated(within, state)
    assert state[1] == ON
    assert (state[6:] == OFF).all()  # three lines, three demands
    assert [list(columns) for columns in unmet(within, state)] == [[2, 3], [4, 5]]
    state[2:4] = OFF
    assert not propagated(within, state)
