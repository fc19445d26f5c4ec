"""What formulas of fewer lines deviate at least is no more than what the closest of them do."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from tests.random_studies import draw
from tests.seeds import seeds

from reaccord.answer.amounts import with_helpers
from reaccord.contract import Budget, Measure
from reaccord.programme import state
from reaccord.solvers.at_least import at_least
from reaccord.solvers.choose import solve
from reaccord.solvers.on_columns import closest_on


@pytest.mark.parametrize("measure", ["squares", "absolute", "worst"])
@seeds(1000, 1004, 1200)
def test_no_formula_of_a_line_or_two_less_is_closer_than_the_bound(seed: int, measure: Measure) -> None:
    programme = state(draw(seed, measure=measure).study())
    answer = solve(programme, Budget(seconds=2.0))
    if answer.amounts is None:
        return
    kept = np.flatnonzero(with_helpers(programme, answer.amounts > 0))
    few, amounts = programme.only(kept), answer.amounts[kept]
    bound, closest = at_least(few, amounts), closest_on(few)
    stocks = np.flatnonzero(~few.helpers)
    for i in stocks:
        assert bound.without(i) <= bound(with_helpers(few, np.arange(len(kept)) != i))
    for left_out in (*combinations(stocks, 1), *combinations(stocks, 2)):
        on = ~few.helpers
        on[list(left_out)] = False
        found = closest(on) if on.any() else None
        if found is not None:
            value = few.value(found)
            assert bound(with_helpers(few, on)) <= value * (1 + 1e-6) + 1e-9


@pytest.mark.parametrize("measure", ["absolute", "worst"])
@pytest.mark.parametrize("seed", [1039, 1118])
def test_nothing_is_poured_of_what_is_off(seed: int, measure: Measure) -> None:
    """Of these, a named amount needs a bottle that is off: there is nothing to pour, not the formula with it."""
    programme = state(draw(seed, measure=measure).study())
    answer = solve(programme, Budget(seconds=2.0))
    assert answer.amounts is not None
    few = programme.only(np.flatnonzero(answer.amounts > 0))
    closest, every = closest_on(few), np.ones(len(few.columns), dtype=bool)
    assert closest(every) is not None
    none = 0
    for i in range(len(every)):
        found = closest(with_helpers(few, np.arange(len(every)) != i))
        none += found is None
        assert found is None or found[i] == 0
    assert none > 0


def test_it_tells_what_a_line_is_worth() -> None:
    """Without limits the squares without a line are known to the last digit."""
    told = 0
    for seed in range(1000, 1006):
        draft = draw(seed, measure="squares")
        draft.settings.pop("limits", None)
        programme = state(draft.study())
        answer = solve(programme, Budget(seconds=2.0))
        if answer.amounts is None:
            continue
        kept = np.flatnonzero(with_helpers(programme, answer.amounts > 0))
        few, amounts = programme.only(kept), answer.amounts[kept]
        told += sum(
            at_least(few, amounts)(with_helpers(few, np.arange(len(kept)) != i)) > few.value(amounts)
            for i in np.flatnonzero(~few.helpers)
        )
    assert told > 5
