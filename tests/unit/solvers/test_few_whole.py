"""Few whole columns: the optimum that HiGHS's own search has, in the few nodes that are told of."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.seeds import seeds

from reaccord.solvers import few_whole, highs
from reaccord.solvers.highs import Linear, Told, by_rows, entries


def drawn(seed: int) -> Linear:
    """Return amounts that make 1, each 0 or between its ends, some counted: as a shelf's linear questions look."""
    rng = np.random.default_rng((20261129, seed))
    n, limits = int(rng.integers(2, 9)), int(rng.integers(1, 4))
    one, ends = np.eye(n), rng.uniform(0.2, 1.2, n)
    low = rng.choice([0.0, 0.05, 0.2], n) * ends
    rows = [np.concatenate([rng.choice([1.0, 0.5], n), np.zeros(n)]), *np.hstack([one, -np.diag(ends)])]
    rows += [*np.hstack([-one, np.diag(low)]), np.concatenate([np.zeros(n), np.ones(n)])]
    rows += [np.concatenate([rng.normal(0.0, 1.0, n), rng.choice([0.0, 0.2], n)]) for _ in range(limits)]
    most = np.concatenate([[1.0], np.zeros(2 * n), [rng.integers(1, n + 1)], rng.normal(0.2, 0.4, limits)])
    matrix = np.array(rows)
    return Linear(
        cost=rng.normal(0.0, 1.0, 2 * n) * rng.choice([0.0, 1.0], 2 * n),
        lower=np.zeros(2 * n),
        upper=np.concatenate([ends, np.ones(n)]),
        rows=by_rows([entries(matrix)], len(matrix)),
        least=np.concatenate([[1.0], np.full(len(matrix) - 1, -math.inf)]),
        most=most,
        whole=np.arange(2 * n) >= n,
    )


def held(model: Linear, columns: np.ndarray) -> bool:
    row = np.repeat(np.arange(len(model.least)), np.diff(model.rows.indptr))
    reached = np.bincount(row, model.rows.data * columns[model.rows.indices], minlength=len(model.least))
    inside = (columns >= model.lower - 1e-6).all() and (columns <= model.upper + 1e-6).all()
    return bool(inside and (reached <= model.most + 1e-6).all() and (reached >= model.least - 1e-6).all())


@seeds(0, 60, 400, 4000)
def test_the_optimum_of_highs(seed) -> None:
    model = drawn(seed)
    ours, theirs = few_whole.solve(model), highs.solve(model, mip_rel_gap=1e-9)
    assert ours.ended == theirs.ended
    assert (ours.columns is None) == (theirs.columns is None)
    if ours.columns is not None:
        assert ours.value == pytest.approx(theirs.value, rel=1e-6, abs=5e-6)  # HiGHS holds whole columns to 1e-6
        assert ours.value == pytest.approx(float(model.cost @ ours.columns), abs=1e-9)
        assert set(np.round(ours.columns[model.whole], 7)) <= {0.0, 1.0}
        assert held(model, ours.columns)
        assert ours.bound == pytest.approx(ours.value, rel=1e-8, abs=1e-9)


def test_both_endings_are_drawn() -> None:
    ended = [few_whole.solve(drawn(seed)).ended for seed in range(60)]
    assert ended.count("optimal") >= 20
    assert ended.count("infeasible") >= 10


def test_bounds_told_on_the_way_are_below_the_optimum() -> None:
    model = next(drawn(seed) for seed in range(100) if few_whole.solve(drawn(seed)).nodes > 4)
    told: list[tuple[float, float, int]] = []
    said = few_whole.solve(model, Told(progress=lambda *words: told.append(words)))
    assert [nodes for _, _, nodes in told] == list(range(1, said.nodes + 1))
    assert all(bound <= said.value + 1e-9 <= value + 2e-9 for value, bound, _ in told)


def test_it_stops_when_told_and_when_time_is_up() -> None:
    model = next(drawn(seed) for seed in range(100) if few_whole.solve(drawn(seed)).nodes > 4)
    asked = iter([False, False, True])
    said = few_whole.solve(model, Told(stop=lambda: next(asked)))
    assert (said.ended, said.nodes) == ("stopped", 2)
    assert few_whole.solve(model, time_limit=0.0).ended == "stopped"


def test_what_takes_long_is_asked_of_highs(monkeypatch: pytest.MonkeyPatch) -> None:
    model = next(drawn(seed) for seed in range(100) if few_whole.solve(drawn(seed)).nodes > 4)
    known, asked, whole = few_whole.solve(model), list[Told](), highs.solve

    def noted(model: Linear, told: Told, **options: object) -> highs.Said:
        asked.append(told)
        return whole(model, told, **options)

    monkeypatch.setattr(highs, "solve", noted)
    monkeypatch.setattr(few_whole, "MOST", 2)
    said = few_whole.solve(model)
    assert len(asked) == 1
    assert said.value == pytest.approx(known.value, rel=1e-4)


def test_more_whole_columns_than_few_are_asked_of_highs(monkeypatch: pytest.MonkeyPatch) -> None:
    model = drawn(0)
    assert few_whole.is_small(model)
    monkeypatch.setattr(few_whole, "FEW", 1)
    assert not few_whole.is_small(model)
    assert not few_whole.is_small(model._replace(upper=3 * model.upper))
