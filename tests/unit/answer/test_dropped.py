"""What is known of a programme without some limits is what a search of it says."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from tests.random_studies import draw
from tests.seeds import seeds

from reaccord.answer.why.conflict import sentences_of, with_set_aside
from reaccord.answer.why.dropped import Dropped, possible_without
from reaccord.programme import state
from reaccord.solvers.possible import least_of


@seeds(1000, 1006, 1300)
def test_one_and_two_limits_left_out(seed: int) -> None:
    study = draw(seed).study()
    programme = with_set_aside(study, state(study))
    asked, every = Dropped(programme), list(sentences_of(programme).values())
    assert asked.possible(frozenset().union(*every)) == possible_without(programme, frozenset().union(*every))
    for pair in [(), *combinations(every, 1), *combinations(every, 2)]:
        without = frozenset().union(*pair)
        assert asked.possible(without) == possible_without(programme, without), without


@seeds(1000, 1006, 1300)
def test_the_least_of_a_limit(seed: int) -> None:
    study = draw(seed).study()
    programme = with_set_aside(study, state(study))
    asked = Dropped(programme)
    for row in programme.limits:
        if row.key.kind == "made" or not asked.possible({row.key}):
            continue
        kept = tuple(other for other in programme.limits if other.key != row.key)
        formulas = (
            least_of(replace(programme, limits=kept), row.amounts, row.used, 20.0),
            asked.least(row, {row.key}, 20.0),
        )
        least, found = (float(row.amounts @ x + row.used @ (x > 0)) for x in formulas if x is not None)
        size = max(abs(row.amounts).max() * programme.batch_g, row.used.max())
        assert max(found, row.most) == pytest.approx(max(least, row.most), rel=2e-4, abs=1e-6 * size)
    formulas = (
        asked.largest_batch(20.0),
        least_of(programme, -programme.basis, 0 * programme.basis, 20.0, (0.0, 1.0)),
    )
    batch, found = (0.0 if x is None else float(programme.basis @ x) for x in formulas)
    assert batch == pytest.approx(found, rel=2e-4, abs=1e-6 * programme.batch_g)
