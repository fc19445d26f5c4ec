"""The linear door, on programmes solved by hand and against every pattern of on and off."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog
from tests.random_programmes import realistic, small
from tests.random_studies import draw
from tests.seeds import drawn, seeds
from tests.unit.solvers.hand import CASES, IMPOSSIBLE, Case, limited, singles

from reaccord.contract import Budget, FloatArray, Measure, Programme, gap_of
from reaccord.programme import state
from reaccord.solvers import linear
from reaccord.solvers.highs import Told
from reaccord.solvers.linear_model import HighsRun, LinearModel
from reaccord.solvers.switching import per_batch, switches_of
from reaccord.study.changed import with_keys

MEASURES: tuple[Measure, ...] = ("absolute", "worst")
FINE = Budget(gap=1e-6)


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_value_known_by_hand_is_reached_and_proven(case: Case, measure: Measure) -> None:
    programme = case.by(measure)
    answer = linear.solve(programme, FINE)
    assert answer.status == "proven"
    assert answer.value == pytest.approx(case.value(measure), abs=1e-9)
    assert answer.amounts is not None
    assert answer.value == programme.value(answer.amounts)
    assert answer.bound <= answer.value
    assert programme.excess(answer.amounts) <= 1e-9
    assert answer.solver == "HiGHS"


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("case", IMPOSSIBLE, ids=lambda case: case.name)
def test_what_cannot_be_done_is_said(case: Case, measure: Measure) -> None:
    answer = linear.solve(case.by(measure), FINE)
    assert answer.status == "infeasible"
    assert answer.amounts is None
    assert answer.value == answer.bound == math.inf


def test_off_is_exactly_zero() -> None:
    answer = linear.solve(replace(singles([0.97, 0.03], 1.0), measure="absolute"), FINE)
    assert answer.amounts is not None
    assert answer.amounts.tolist() == [10.0, 0.0]


def test_squares_are_refused() -> None:
    with pytest.raises(ValueError, match="not linear"):
        linear.solve(singles([1.0]), FINE)


def test_interrupt_and_no_time_give_no_answer() -> None:
    programme = replace(singles([0.5, 0.5], 1.0), measure="absolute")
    for budget in (Budget(stop=lambda: True), Budget(seconds=0.0)):
        answer = linear.solve(programme, budget)
        assert answer.status == "no_answer"
        assert answer.amounts is None
        assert answer.bound == 0.0


def test_short_time_never_gives_a_formula_that_breaks_a_limit() -> None:
    programme = replace(realistic(60, 60, 2, lines=12), measure="absolute")
    answer = linear.solve(programme, Budget(gap=0.0, seconds=0.3))
    assert answer.status in ("no_answer", "feasible")
    if answer.amounts is not None:
        assert programme.excess(answer.amounts) <= 1e-7
        assert answer.bound <= answer.value


def test_progress_is_told_value_and_bound() -> None:
    told: list[tuple[float, float, int]] = []
    programme = replace(CASES[2].programme, measure="absolute")
    answer = linear.solve(programme, Budget(progress=lambda *numbers: told.append(numbers)))
    assert told[-1] == (answer.value, answer.bound, answer.nodes)
    assert all(bound <= answer.value * (1 + 1e-6) for _, bound, _ in told)


@pytest.mark.parametrize("measure", MEASURES)
def test_interrupted_in_the_middle_it_keeps_a_formula_and_a_true_bound(measure: Measure) -> None:
    programme = replace(realistic(60, 60, 2, lines=12), measure=measure)
    asked: list[float] = []

    def stop() -> bool:  # not before HiGHS itself asks: the first formula asks too
        asked.append(0.0)
        return len(asked) > 200

    answer = linear.solve(programme, Budget(gap=1e-9, stop=stop))
    assert answer.status == "feasible"
    assert answer.amounts is not None
    assert programme.excess(answer.amounts) <= 1e-7
    assert 0.0 <= answer.bound <= linear.solve(programme, Budget(gap=0.1)).value


def test_first_formula_is_there_when_highs_has_no_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(LinearModel, "search", lambda *_: HighsRun())
    programme = replace(realistic(60, 60, 2, lines=12), measure="absolute")
    answer = linear.solve(programme, FINE)
    assert answer.status == "feasible"
    assert answer.bound == 0.0
    assert answer.amounts is not None
    assert programme.excess(answer.amounts) <= 1e-7


def test_what_it_begins_from_is_poured_for_the_measure(monkeypatch: pytest.MonkeyPatch) -> None:
    programme = replace(realistic(30, 28, 3, lines=8), measure="absolute")
    best = linear.solve(programme, FINE)
    assert best.amounts is not None
    monkeypatch.setattr(LinearModel, "search", lambda *_: HighsRun())
    monkeypatch.setattr(linear, "first_formula", lambda *_: None)
    assert linear.solve(programme, FINE).amounts is None
    found = linear.solve(programme, replace(FINE, start=2 * best.amounts))
    assert found.value == pytest.approx(best.value, rel=1e-6)


def best_by_enumeration(programme: Programme) -> float:
    """Return the least deviation over all choices of columns, each a linear programme; infinite if none holds."""
    n = len(programme.columns)
    return min(
        _best_with(programme, np.array(on))
        for on in itertools.product((False, True), repeat=n)
        if any(on) and _allowed(programme, np.array(on))
    )


def _allowed(programme: Programme, on: np.ndarray) -> bool:
    return all(sum(on[list(part)].any() for part in parts) <= 1 for parts in programme.strengths)


def _best_with(programme: Programme, on: np.ndarray) -> float:
    """Return the least deviation with these columns at their minima or more."""
    z = on.astype(float)
    each = np.eye(len(programme.rows)) if programme.measure == "absolute" else np.ones((len(programme.rows), 1))
    n, count = len(on), each.shape[1]
    achieved = programme.factor[:, None] * programme.content
    rows = [np.hstack([achieved, -each]), np.hstack([-achieved, -each])]
    ends = [programme.factor * programme.high, -programme.factor * programme.low]
    for row in programme.limits:
        size = max(np.abs(row.amounts).max(initial=0.0) * programme.batch_g, abs(row.most), 1.0)
        rows.append(np.hstack([row.amounts * programme.batch_g / size, np.zeros(count)])[None, :])
        ends.append(np.array([(row.most - row.used @ z) / size]))
    bounds = [
        *zip(
            programme.minimum * z / programme.batch_g,
            np.where(on, programme.maximum, 0) / programme.batch_g,
            strict=True,
        ),
        *[(0.0, np.inf)] * count,
    ]
    if any(low > high for low, high in bounds):
        return math.inf
    said = linprog(
        np.concatenate([np.zeros(n), np.ones(count)]),
        A_ub=np.vstack(rows),
        b_ub=np.concatenate(ends),
        A_eq=np.concatenate([programme.basis, np.zeros(count)])[None, :],
        b_eq=[1.0],
        bounds=bounds,
    )
    return float(said.fun) if said.status == 0 else math.inf


@pytest.mark.parametrize("measure", MEASURES)
@seeds(0, 6, 12)
def test_against_every_pattern(seed: int, measure: Measure) -> None:
    programme = replace(small(seed), measure=measure)
    answer = linear.solve(programme, FINE)
    best = best_by_enumeration(programme)
    if math.isinf(best):
        assert answer.status == "infeasible"
    else:
        assert answer.status == "proven"
        assert answer.value == pytest.approx(best, rel=1e-6, abs=1e-9)
        assert answer.bound <= best * (1 + 1e-9)


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("part", drawn(range(8), range(8, 20)), ids=str)
def test_bound_holds_at_a_loose_gap(part: range, measure: Measure) -> None:
    for seed in part:
        programme = replace(small(seed), measure=measure)
        loose, tight = linear.solve(programme, Budget(gap=0.3)), linear.solve(programme, FINE)
        assert loose.status in ("proven", "infeasible")
        if tight.amounts is not None:
            assert loose.bound <= tight.value
            assert gap_of(loose.value, loose.bound) <= 0.3


def test_batch_scales_the_amounts_and_nothing_else() -> None:
    programme = replace(small(8), measure="absolute")
    factor = 1000.0
    larger = replace(
        programme,
        batch_g=programme.batch_g * factor,
        minimum=programme.minimum * factor,
        maximum=programme.maximum * factor,
        limits=tuple(row if row.used.any() else replace(row, most=row.most * factor) for row in programme.limits),
    )
    one, other = linear.solve(programme, FINE), linear.solve(larger, FINE)
    assert one.amounts is not None
    assert other.amounts is not None
    assert other.value == pytest.approx(one.value)
    assert other.amounts == pytest.approx(one.amounts * factor)


def test_pattern_that_holds_only_within_a_tolerance_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    # "all off" cannot hold the batch: HiGHS is made to say so first
    search = LinearModel.search
    said: list[FloatArray] = []

    def first_wrong(self: LinearModel, gap: float, seconds: float, told: Told | None = None) -> HighsRun:
        outcome = search(self, gap, seconds, told)
        if not said and outcome.columns is not None:
            said.append(np.zeros_like(outcome.columns))
            return replace(outcome, columns=said[0])
        return outcome

    monkeypatch.setattr(LinearModel, "search", first_wrong)
    answer = linear.solve(replace(singles([0.97, 0.03], 1.0), measure="absolute"), FINE)
    assert said
    assert answer.status == "proven"
    assert answer.amounts is not None
    assert answer.amounts.tolist() == [10.0, 0.0]


def test_bottle_that_nothing_bounds_leaves_the_bound_open() -> None:
    # the filler is outside the basis, a limit asks for it and nothing says how much is too much
    programme = limited(replace(singles([0.6, 0.4], 1.0), basis=np.array([1.0, 0.0])), -2.0, amounts=[0.0, -1.0])
    free = replace(programme, content=np.array([[1.0, 0.0], [0.0, 0.0]]), measure="absolute")
    answer = linear.solve(free, FINE)
    assert answer.status == "feasible"
    assert answer.value == pytest.approx(0.8)
    assert answer.bound == 0.0
    # where it shows in a row, too much of it is worse than what was found: nothing is left open
    answer = linear.solve(replace(programme, measure="absolute"), FINE)
    assert answer.status == "proven"
    assert answer.value == pytest.approx(0.4)


@pytest.mark.parametrize("measure", MEASURES)
@seeds(0, 6, 20, 400)
def test_what_a_search_found_is_no_worse_than_its_pattern_poured_anew(seed: int, measure: Measure) -> None:
    programme = replace(small(seed), measure=measure)
    answer = linear.solve(programme, FINE)
    if answer.amounts is None:
        return
    scaled = per_batch(programme)
    anew = linear.polished(scaled, switches_of(scaled), answer.amounts > 0)
    assert anew is not None
    assert answer.value <= anew.value * (1 + 1e-9) + 1e-12
    assert programme.excess(answer.amounts) <= 1e-9


def test_columns_that_are_only_near_are_poured_anew() -> None:
    # what HiGHS's own search found within the gap need not be the best of its pattern
    programme = per_batch(replace(singles([0.5, 0.3, 0.2], 0.5), measure="absolute"))
    model = LinearModel(programme, switches_of(programme))
    best = model.search(1e-6, math.inf)
    assert best.columns is not None
    on = model.pattern(best.columns)
    moved = best.columns.copy()
    moved[:2] += [0.01, -0.01]
    moved[-3:-1] += 2.0  # in hundredths, by their factors
    assert model.holds(moved)
    for columns, taken in ((best.columns, True), (moved, False)):
        found = linear._as_found(model, on, HighsRun(columns, best.bound))
        assert (found is not None) is taken


def test_what_is_possible_is_not_taken_for_impossible() -> None:
    """A cost just above the least: HiGHS, from the basis of another question, found nothing on the only two lines."""
    programme = state(with_keys(draw(2770).study(), "limits", cost_per_kg=128.31))
    assert linear.solve(programme).status == "proven"
