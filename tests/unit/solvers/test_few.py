"""Programmes with few columns to decide: what `few` settles is what the search finds; what it leaves is as it was."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.random_programmes import banded, realistic, small
from tests.seeds import seeds
from tests.unit.solvers.hand import limited, singles
from tests.whole_search import whole_search

from reaccord.contract import Budget, Programme, gap_of
from reaccord.solvers.exact import few, solve
from reaccord.solvers.exact.presolve import presolve
from reaccord.solvers.exact.scaled import cleaned, scale

GAP = 1e-8


def settled(programme: Programme, budget: Budget | None = None) -> few.Settled | None:
    programme = cleaned(programme)
    return few.settle(programme, presolve(scale(programme)), (budget or Budget(gap=GAP)).running())


@pytest.mark.parametrize("draw", [small, banded])
@seeds(0, 25, 120, 900)
def test_what_is_settled_is_what_the_search_finds(draw, seed) -> None:
    programme = draw(seed)
    found, searched = settled(programme), whole_search(programme, Budget(gap=GAP))
    if found is None:
        return
    if found.formula is None:
        assert searched.status == "infeasible"
        return
    assert programme.excess(found.formula.amounts) <= 1e-9
    assert found.formula.value == programme.value(found.formula.amounts)
    assert found.formula.value == pytest.approx(searched.value, rel=2e-8, abs=1e-9)
    assert gap_of(found.formula.value, found.bound) <= GAP
    assert found.bound <= searched.value * (1 + 1e-9) + 1e-12


def test_bottles_are_drawn_where_no_constituent_has_a_pure_source() -> None:
    assert small(2039).content.any(axis=0).all()


def test_most_small_programmes_are_settled() -> None:
    assert sum(settled(small(seed)) is not None for seed in range(40)) >= 34


def test_by_hand() -> None:
    # 0.6, 0.35 and 0.05 wanted, at least 0.2 of what is poured: without the third, what it leaves is shared
    found = settled(singles([0.6, 0.35, 0.05], 0.2, batch_g=1.0))
    assert found is not None
    assert found.formula is not None
    assert found.formula.amounts == pytest.approx([0.625, 0.375, 0.0])
    assert found.bound == pytest.approx(2 * 0.025**2 + 0.05**2)


def test_a_column_without_an_end_has_one_where_a_formula_is_known() -> None:
    programme = singles([0.6, 0.4], batch_g=1.0)
    carrier = replace(
        programme,
        columns=(*programme.columns, "carrier"),
        content=np.hstack([programme.content, [[0.5], [0.0]]]),
        basis=np.array([1.0, 1.0, 0.0]),
        minimum=np.zeros(3),
        maximum=np.array([0.3, 1.0, np.inf]),
    )
    found = settled(carrier)  # 0.3 and 0.7 fill the batch; the rest of the first row comes beside it
    assert found is not None
    assert found.formula is not None
    assert found.formula.amounts == pytest.approx([0.3, 0.7, 0.6])
    assert found.bound == pytest.approx(0.3**2)


def test_nothing_is_possible() -> None:
    programme = limited(singles([0.5, 0.5], batch_g=1.0), 0.9, amounts=[1.0, 1.0])
    assert settled(programme) == few.Settled(None, np.inf, 1)


def test_what_is_too_large_too_late_or_too_long_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    assert settled(realistic(30, 28, 0)) is None
    programme = small(3)
    assert settled(programme, Budget(gap=GAP, stop=lambda: True)) is None
    assert settled(programme) is not None
    monkeypatch.setattr(few, "MOST", 0)
    assert settled(programme) is None


def test_it_tells_what_a_search_tells() -> None:
    told: list[tuple[float, float, int]] = []
    found: list[float] = []
    programme = small(3)
    budget = Budget(
        progress=lambda *words: told.append(words), found=lambda grams: found.append(programme.value(grams))
    )
    answer = solve(programme, budget)
    assert answer.warm is None
    assert told == [(answer.value, answer.bound, answer.nodes)]
    assert found == [answer.value]
