"""A search begun from another programme's: the verdict and, within the gap, the value of one begun from nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.random_changes import changed
from tests.random_programmes import banded, realistic, small
from tests.seeds import seeds
from tests.whole_search import whole_search

from reaccord.contract import Answer, Budget, Programme, gap_of

NOISE = 1e-9


def agrees(programme: Programme, cold: Answer, warm: Answer, gap: float) -> None:
    assert cold.status in (warm.status, "feasible")  # cold gave up where digits end: warm may not
    if cold.amounts is None:
        assert warm.amounts is None
        return
    assert warm.amounts is not None
    assert programme.excess(warm.amounts) <= 1e-8
    assert warm.value == pytest.approx(programme.value(warm.amounts), rel=1e-12, abs=1e-15)
    assert warm.bound <= cold.value * (1 + NOISE) + NOISE
    assert cold.bound <= warm.value * (1 + NOISE) + NOISE
    assert gap_of(warm.value, warm.bound) <= max(gap, NOISE) or warm.status == "feasible"


@pytest.mark.parametrize("draw", [small, banded])
@seeds(0, 6, 30, 800)
def test_small_programmes_changed_again_and_again(draw, seed) -> None:
    rng = np.random.default_rng((12, seed))
    programme, gap = draw(seed), float(rng.choice([1e-3, 1e-8]))
    before = whole_search(programme, Budget(gap=gap))
    for _ in range(4):
        programme = changed(rng, programme)
        cold = whole_search(programme, Budget(gap=gap))
        before = whole_search(programme, Budget(gap=gap, warm=before.warm))
        agrees(programme, cold, before, gap)


@pytest.mark.parametrize(("lines", "strengths"), [(None, ()), (8, ()), (None, (0.1, 0.01))])
@seeds(0, 1, 4, 30)
def test_shelves_changed_again_and_again(lines, strengths, seed) -> None:
    rng = np.random.default_rng((13, seed))
    programme = realistic(30, 28, seed, lines, strengths)
    before = whole_search(programme, Budget())
    for _ in range(3):
        programme = changed(rng, programme)
        cold = whole_search(programme, Budget())
        before = whole_search(programme, Budget(warm=before.warm))
        agrees(programme, cold, before, 1e-3)


@seeds(0, 1, 4, 20)
def test_a_search_cut_short_is_gone_on_with(seed) -> None:
    programme = realistic(30, 28, seed, 8)
    asked = 0

    def stop() -> bool:
        nonlocal asked
        asked += 1
        return asked > 60

    part = whole_search(programme, Budget(gap=1e-6, stop=stop))
    whole = whole_search(programme, Budget(gap=1e-6, warm=part.warm))
    agrees(programme, whole_search(programme, Budget(gap=1e-6)), whole, 1e-6)


def test_what_is_proven_is_not_proven_again() -> None:
    programme = realistic(30, 28, 3, 8)
    cold = whole_search(programme, Budget())
    again = whole_search(programme, Budget(warm=cold.warm))
    assert cold.nodes > 10
    assert again.nodes <= 1
    np.testing.assert_array_equal(again.amounts, cold.amounts)


def test_a_record_of_another_shelf_does_no_harm() -> None:
    programme, other = realistic(30, 28, 0, 8), realistic(30, 28, 1, 8)
    other = replace(other, columns=tuple(f"another {name}" for name in other.columns))
    agrees(
        programme,
        whole_search(programme, Budget()),
        whole_search(programme, Budget(warm=whole_search(other, Budget()).warm)),
        1e-3,
    )
