"""Red costs 10 and green 50 per kg, 60 to 40 are wanted: at a cost of `c` the deviation is `2 ((26 - c) / 40)^2`."""

from __future__ import annotations

import multiprocessing
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from tests.random_studies import draw
from tests.tiny_study import CARRIER, GREEN, RED, tiny

from reaccord.answer.fit import fit
from reaccord.answer.judge import judge
from reaccord.contract import Budget
from reaccord.domain.study import Study
from reaccord.questions.axis import Cost
from reaccord.questions.cheapest import Within, cheapest
from reaccord.questions.curve import Frontier
from reaccord.questions.epsilon_constraint import Ceilings
from reaccord.questions.frontier import frontier

MANY = 1000
"""More points than any of these curves needs."""


def made(measure: str = "squares", **more: Any) -> Study:
    return tiny(fit={"measure": measure, "scale": "equal"}, **more)


def deviation(cost: float) -> float:
    return 2 * ((26 - cost) / 40) ** 2


@pytest.fixture(scope="module")
def curve() -> Frontier:
    return frontier(made(limits={"cost_per_kg": 20}), points=MANY)


def test_points_lie_where_they_should(curve: Frontier) -> None:
    assert (curve.status, curve.covered) == ("proven", True)
    for point in curve.points:
        assert point.value == pytest.approx(deviation(point.quantity), abs=1e-8)
    assert curve.points[0].quantity == pytest.approx(10, rel=1e-3)
    assert curve.least <= 10 * (1 + 1e-9)
    assert curve.points[-1].quantity == pytest.approx(26, rel=1e-4)


def test_no_formula_beats_the_curve(curve: Frontier) -> None:
    costs, values = (np.array([getattr(p, name) for p in curve.points]) for name in ("quantity", "value"))
    across, down = 0.01 * np.ptp(costs), 0.01 * np.ptp(values)
    for cost in np.linspace(10, 26, 2000):
        near = (costs <= cost + across + 1e-9) & (values <= deviation(cost) + down + 1e-9)
        assert near.any(), cost


def test_the_own_limit_is_marked_and_left_aside(curve: Frontier) -> None:
    assert curve.own == 20
    (own,) = [point for point in curve.points if point.ceiling == 20]
    assert own.value == pytest.approx(fit(curve.study).judged.closeness.value)
    assert curve.points[-1].quantity > 20


def test_an_evenly_bent_curve_has_no_knee(curve: Frontier) -> None:
    """The parabola of the square falls as `2 ((26 - c) / 40)^2`: 0.25 of both ranges below its chord."""
    assert curve.knee is None


def test_the_knee_is_farthest_from_the_chord() -> None:
    """Blue is as cheap to add as red up to its stock; beyond that each step costs far more for less."""
    amber = GREEN | {"material": "Amber", "constituent": "amber", "price_per_kg": "900"}
    found = frontier(made(bottles=(RED, GREEN, amber), rows={"red": "60", "green": "35", "amber": "5"}))
    assert found.knee is not None
    quantity, value = (np.array([getattr(p, name) for p in found.points]) for name in ("quantity", "value"))
    below = 1 - (quantity - quantity[0]) / np.ptp(quantity) - (value - value[-1]) / np.ptp(value)
    assert found.knee == int(np.argmax(below))
    assert below[found.knee] > 0.5


@pytest.mark.parametrize("most", [2, 5, 12])
def test_no_more_points_than_asked_for(most: int) -> None:
    """With time left they are proven, though a better formula may lie between two of them."""
    found = frontier(made(limits={"cost_per_kg": 20}), points=most)
    assert len(found.points) == most
    assert (found.status, found.covered) == ("proven", False)
    if most > 2:
        assert 20 in [point.ceiling for point in found.points], "the study's own limit comes first"


def test_points_lie_where_neighbours_differ_most() -> None:
    """No step of the curve is much larger than the others, both ranges taken as 1."""
    found = frontier(made(), points=12)
    quantity, value = (np.array([getattr(p, name) for p in found.points]) for name in ("quantity", "value"))
    steps = np.hypot(np.diff(quantity) / np.ptp(quantity), np.diff(value) / np.ptp(value))
    assert steps.max() <= 0.25, "of a way between 1.41 and 2 in 11 steps"


def test_few_points_of_many_lines() -> None:
    names = [f"c{number}" for number in range(9)]
    bottles = [RED | {"material": name.upper(), "constituent": name} for name in names]
    study = made(bottles=bottles, rows={name: str(100 * 2 ** (8 - number) / 511) for number, name in enumerate(names)})
    found = frontier(study, "lines", points=5)
    assert (len(found.points), found.status, found.covered) == (5, "proven", False)
    assert found.points[-1].ceiling == 9


@pytest.mark.parametrize("measure", ["absolute", "worst"])
def test_linear_measures(measure: str) -> None:
    """The curve is its own chord: no knee but by noise, and few points."""
    found = frontier(made(measure))
    factor = 2 if measure == "absolute" else 1
    assert found.status == "proven"
    for point in found.points:
        assert point.value == pytest.approx(factor * (26 - point.quantity) / 40, abs=1e-6)


def test_each_number_of_lines() -> None:
    bottles = (RED, GREEN, RED | {"material": "Blue", "constituent": "blue"})
    study = made(bottles=bottles, rows={"red": "60", "green": "30", "blue": "10"}, limits={"lines": 2})
    found = frontier(study, "lines")
    assert (found.status, found.own, found.least) == ("proven", 2, 1)
    assert [point.ceiling for point in found.points] == [1, 2, 3]
    for point in found.points:
        least = fit(found.axis.at(study, point.ceiling)).judged.closeness.value
        assert point.value == pytest.approx(least, abs=1e-9)
        assert len(point.fit.amounts) <= point.ceiling


def test_too_few_lines_are_left_out() -> None:
    amounts = [{"material": name, "at_least_g": 1} for name in ("Red", "Green")]
    found = frontier(made(limits={"amount": amounts}), "lines")
    assert [point.ceiling for point in found.points] == [2]
    assert (found.least, found.covered, found.knee) == (2, True, None)


def test_carrier() -> None:
    """Green comes at 10 % only: its 4 g bring 36 g of carrier, and without it there is none."""
    weak = GREEN | {"strength": "10", "carrier": "dipropylene glycol"}
    study = made(bottles=(RED, weak, CARRIER), batch={"accord_g": 10, "carrier_max_g": 20})
    found = frontier(study, "carrier")
    assert (found.status, found.axis.key, found.own) == ("proven", "carrier_g", 20)
    assert found.points[0].quantity == pytest.approx(0, abs=0.05)
    assert found.points[-1].quantity == pytest.approx(36, rel=1e-3)
    for point in found.points:
        assert point.value == pytest.approx(2 * (0.4 - point.quantity / 90) ** 2, abs=1e-6)


def test_a_restricted_substance() -> None:
    rule = {"rule": "Green", "members": "green", "max": "0.5", "kind": "each"}
    found = frontier(made(rules=[rule]), "green")
    assert (found.status, found.axis.key, found.own) == ("proven", "share", pytest.approx(0.005))
    assert found.points[-1].quantity == pytest.approx(0.008, rel=1e-3)
    for point in found.points:
        assert point.value == pytest.approx(2 * (0.4 - point.quantity / 0.02) ** 2, abs=1e-6)


def shape(found: Frontier) -> list[Any]:
    return [(p.ceiling, p.quantity, p.value, p.fit.bound, dict(p.fit.amounts)) for p in found.points]


def test_the_number_of_workers_changes_nothing() -> None:
    study = made(limits={"cost_per_kg": 20})
    one, two = frontier(study, workers=1), frontier(study, workers=2)
    assert shape(one) == shape(two)
    assert not multiprocessing.active_children()
    check(one)


@pytest.mark.sweep
@pytest.mark.quick
@pytest.mark.parametrize("seed", [5, 13, 27])  # squares, worst, absolute
def test_drawn_studies(seed: int) -> None:
    check(frontier(draw(seed).study(), points=MANY))


def check(found: Frontier) -> None:
    """Every point is judged again; the curve falls; its cheap end is what `cheapest` finds."""
    quantities, values = [p.quantity for p in found.points], [p.value for p in found.points]
    assert quantities == sorted(quantities)
    assert all(a > b for a, b in pairwise(values))
    for point in found.points:
        judged = judge(found.study, point.fit.amounts)
        assert judged.closeness.value == pytest.approx(point.value, rel=1e-9)
        assert judged.totals.cost_per_kg == pytest.approx(point.quantity, rel=1e-9)
        assert {s.label for s in judged.broken} <= {"cost"}
        assert point.quantity <= point.ceiling * (1 + 1e-9)
    free = Cost().at(found.study, None)
    least = cheapest(free, Within(found.begins))
    assert found.least <= least.before * (1 + 1e-9)
    assert least.bound <= found.points[0].quantity * (1 + 1e-9)


def test_points_begin_from_what_was_known_before_their_round(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each from the point below it, which fits under its ceiling; the closest begins from nothing."""
    from reaccord.questions import side_by_side

    begun: list[tuple[float, float]] = []
    plain = side_by_side.fitted

    def noted(ceilings: Ceilings, ceiling: float, budget: Budget) -> Any:
        assert budget.start is not None
        begun.append((ceiling, ceilings.quantity(budget.start)))
        return plain(ceilings, ceiling, budget)

    monkeypatch.setattr(side_by_side, "fitted", noted)
    found = frontier(made())
    assert len(begun) >= len(found.points) - 1
    first, *rest = begun
    assert first[1] > first[0] - 1e-6
    assert all(quantity <= ceiling * (1 + 1e-9) for ceiling, quantity in rest)


def test_stopped_it_promises_nothing() -> None:
    found = frontier(made(), budget=Budget(stop=lambda: True))
    assert (found.status, found.covered) == ("feasible", False)
    assert found.points


def test_told_of_points() -> None:
    told: list[tuple[int, int]] = []
    found = frontier(made(), told=lambda done, total: told.append((done, total)))
    assert all(0 <= done <= total for done, total in told)
    assert told[-1][0] >= len(found.points)
    assert {total for _, total in told} == {12}
