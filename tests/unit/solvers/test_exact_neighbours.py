"""What a step away is told to bring: exactly that, where no other amount reaches an end."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.solvers.hand import singles
from tests.whole_search import whole_search

from reaccord.contract import Budget, Programme
from reaccord.solvers.exact.formula import Formula, on_columns
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.neighbours import estimated, supports
from reaccord.solvers.exact.scaled import scale

BOTTLES, CONSTITUENTS, LINES = 12, 9, 5
LARGE = 2.0
"""Gram of the minimum that one bottle is held at."""


def drawn(seed: int) -> tuple[Programme, Model, Formula]:
    """Return blends of everything, and the best formula of a few of them; the first is held at its minimum."""
    rng = np.random.default_rng(seed)
    content = rng.dirichlet(np.full(CONSTITUENTS, 0.7), BOTTLES).T
    share = content[:, 1:LINES] @ np.full(LINES - 1, 1 / (LINES - 1)) * rng.lognormal(0.0, 0.1, CONSTITUENTS)
    programme = replace(
        singles([0.0] * BOTTLES),
        rows=tuple(f"row {k}" for k in range(CONSTITUENTS)),
        content=content,
        low=share,
        high=share,
        factor=np.ones(CONSTITUENTS),
        minimum=np.where(np.arange(BOTTLES) == 0, LARGE, 0.0),
    )
    model = Model(scale(programme))
    formula = on_columns(programme, model, np.arange(BOTTLES) < LINES)
    assert formula is not None
    return programme, model, formula


def ends(formula: Formula) -> dict[int, bool]:
    """Return for each column of a formula whether its amount is at an end."""
    columns = np.flatnonzero(formula.support).tolist()
    return dict(zip(columns, (formula.point.bounds != 0).tolist(), strict=False))


@pytest.mark.parametrize("seed", range(5))
def test_a_step_brings_what_it_is_told_to(seed: int) -> None:
    programme, model, formula = drawn(seed)
    before, seen = ends(formula), {"dropped": 0, "added": 0, "swapped": 0, "held dropped": 0}
    for told, support in supports(estimated(model, formula, programme.batch_g), formula):
        after = on_columns(programme, model, support)
        if after is None:
            continue
        now = ends(after)
        if any(now[i] != before[i] for i in now if i in before):
            continue
        dropped, added = np.flatnonzero(formula.support & ~support), np.flatnonzero(support & ~formula.support)
        assert after.value - formula.value == pytest.approx(told, abs=1e-7 * model.scaled.value(np.zeros(BOTTLES)))
        kind = "swapped" if len(dropped) and len(added) else "dropped" if len(dropped) else "added"
        seen["held dropped" if len(dropped) and before[int(dropped[0])] else kind] += 1
    assert before[0]
    assert seen["swapped"] + seen["held dropped"] >= 3


def test_a_lot_stands_for_its_twin() -> None:
    """Dropping it is dear and its twin beside it brings nothing; for one another they cost nothing."""
    programme, model, formula = drawn(1)
    free = next(i for i, end in ends(formula).items() if not end)
    content = programme.content.copy()
    content[:, BOTTLES - 1] = content[:, free]
    programme = replace(programme, content=content)
    model = Model(scale(programme))
    alone = on_columns(programme, model, formula.support)
    assert alone is not None
    moves = estimated(model, alone, programme.batch_g)
    little = 1e-9 * model.scaled.value(np.zeros(BOTTLES))
    assert moves.drop[free] > 1e3 * little
    assert abs(moves.add[BOTTLES - 1]) < little
    assert abs(moves.swap[list(moves.used).index(free), BOTTLES - 1]) < little


def test_an_exact_formula_pours_nothing_it_can_do_without() -> None:
    programme = replace(
        singles([0.5, 0.3, 0.2, 0.0]), content=np.array([[1, 0, 0, 0.6], [0, 1, 0, 0.4], [0, 0, 1, 0], [0, 0, 0, 0.0]])
    )
    answer = whole_search(programme, Budget(gap=1e-6))
    assert answer.status == "proven"
    assert answer.amounts is not None
    assert answer.value == pytest.approx(0.0, abs=1e-12)
    assert int((answer.amounts > 0).sum()) == 3
