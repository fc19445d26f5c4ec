"""`absolute` and `worst`: the linear door against every choice of bottles, and against SCIP through the reference door.

Outside checks. The enumeration knows no switch, no relaxation and no bound: each choice of columns is one linear
programme, written here anew. SCIP is a branch-and-bound solver of other people and gets the statement in cvxpy, not
ours. Both give a value; neither may lie under a bound that is claimed.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from scipy.optimize import linprog
from tests.random_programmes import small
from tests.seeds import drawn

from reaccord.contract import Answer, Budget, FloatArray, Measure, Programme
from reaccord.solvers import linear, reference

MEASURES: tuple[Measure, ...] = ("absolute", "worst")
EXACTLY = Budget(gap=1e-6, seconds=60)
RELATIVE, ABSOLUTE = 1e-6, 1e-9


@dataclass
class Tally:
    """How two ways to the answer agreed: pairs of statuses, and every way in which they did not."""

    pairs: Counter[tuple[str, str]] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)

    def require(self, holds: bool, fault: str) -> None:
        if not holds:
            self.faults.append(fault)

    def held(self, name: str, programme: Programme, answer: Answer) -> None:
        """Require that an answer's own figures stand up."""
        self.require((answer.amounts is None) == (answer.status == "infeasible"), f"{name}: {answer.status}")
        if answer.amounts is not None:
            self.require(answer.value == programme.value(answer.amounts), f"{name}: value not recomputed")
            self.require(programme.excess(answer.amounts) <= 1e-7, f"{name}: a limit is broken")
            self.require(answer.bound <= answer.value, f"{name}: bound over its own value")

    def same(self, name: str, ours: Answer, status: str, value: float) -> None:
        """Require one status, one value (infinite without a formula), and no bound above either value."""
        self.pairs[ours.status, status] += 1
        self.require(ours.status == status, f"{name}: {ours.status} here, {status} there")
        if math.isfinite(value) and math.isfinite(ours.value):
            apart = abs(ours.value - value)
            self.require(apart <= max(RELATIVE * value, ABSOLUTE), f"{name}: {ours.value} here, {value} there")
            self.require(ours.bound <= value * (1 + 1e-9) + 1e-12, f"{name}: bound {ours.bound} over {value}")


def must_be_chosen(programme: Programme) -> list[int]:
    """Return the columns whose use is more than a small amount: with a minimum, counted, or one strength of several."""
    found = set(np.flatnonzero(programme.minimum > 0).tolist())
    for row in programme.limits:
        found |= set(np.flatnonzero(row.used > 0).tolist())
    for strengths in programme.strengths:
        found |= {i for columns in strengths for i in columns}
    return sorted(found)


def choices(programme: Programme) -> Iterator[FloatArray]:
    """Yield every choice of columns (n,), 1 where used, that is possible as far as can be seen without amounts."""
    columns = must_be_chosen(programme)
    least = programme.basis * programme.minimum
    counted = [row for row in programme.limits if not row.amounts.any()]
    for picks in itertools.product((0.0, 1.0), repeat=len(columns)):
        used = np.ones(len(programme.columns))
        used[columns] = picks
        if least @ used > programme.batch_g * (1 + 1e-9) or any(row.used @ used > row.most + 1e-9 for row in counted):
            continue
        if all(sum(bool(used[list(c)].any()) for c in strengths) <= 1 for strengths in programme.strengths):
            yield used


class EveryChoice:
    """The linear programmes of one programme, a choice of columns each; amounts over the batch, then deviations."""

    def __init__(self, programme: Programme) -> None:
        self.programme = programme
        rows, n = programme.content.shape
        one_each = np.eye(rows) if programme.measure == "absolute" else np.ones((rows, 1))
        self.deviations = one_each.shape[1]
        scaled = programme.factor[:, None] * programme.content
        closed = np.isfinite(programme.high)
        self.limits = [row for row in programme.limits if row.amounts.any()]
        grams = [row.amounts * programme.batch_g for row in self.limits]
        self.sizes = np.array([np.abs(amounts).max() for amounts in grams])
        limits = np.array([a / s for a, s in zip(grams, self.sizes, strict=True)]).reshape(-1, n)
        self.left = np.vstack([
            np.hstack([scaled, -one_each])[closed],
            np.hstack([-scaled, -one_each]),
            np.hstack([limits, np.zeros((len(limits), self.deviations))]),
        ])  # fmt: skip
        self.ends = np.concatenate([(programme.factor * programme.high)[closed], -programme.factor * programme.low])
        self.cost = np.concatenate([np.zeros(n), np.ones(self.deviations)])
        self.batch = np.concatenate([programme.basis, np.zeros(self.deviations)])[None, :]

    def best_with(self, used: FloatArray) -> float:
        """Return the least deviation with these columns at their minima or more, the others 0; infinite if none."""
        programme = self.programme
        room = np.array([row.most - row.used @ used for row in self.limits]) / self.sizes
        least = programme.minimum * used / programme.batch_g
        most = np.where(used > 0, programme.maximum / programme.batch_g, 0.0)
        if (least > most).any():
            return math.inf
        said = linprog(
            self.cost,
            A_ub=self.left,
            b_ub=np.concatenate([self.ends, room]),
            A_eq=self.batch,
            b_eq=[1.0],
            bounds=[*zip(least, most, strict=True), *[(0.0, math.inf)] * self.deviations],
            options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10},
        )
        assert said.status in (0, 2), said.message
        return float(said.fun) if said.status == 0 else math.inf

    def best(self) -> float:
        return min((self.best_with(used) for used in choices(self.programme)), default=math.inf)


def against_every_choice(measure: Measure, seeds: range) -> Tally:
    tally = Tally()
    for seed in seeds:
        programme = replace(small(seed), measure=measure)
        answer, least = linear.solve(programme, EXACTLY), EveryChoice(programme).best()
        name = f"small {seed}, {measure}"
        tally.held(name, programme, answer)
        tally.same(name, answer, "proven" if math.isfinite(least) else "infeasible", least)
    return tally


def against_scip(measure: Measure, seeds: range) -> Tally:
    tally = Tally()
    for seed in seeds:
        programme = replace(small(seed), measure=measure)
        ours, scip = linear.solve(programme, EXACTLY), reference.solve(programme, EXACTLY)
        name = f"small {seed}, {measure}"
        tally.held(name, programme, ours)
        tally.held(f"{name}, SCIP", programme, scip)
        tally.same(name, ours, scip.status, scip.value)
        if scip.amounts is not None:
            tally.require(scip.bound <= ours.value * (1 + 1e-9) + 1e-12, f"{name}: SCIP's bound over our value")
    return tally


def full(tally: Tally, count: int) -> bool:
    """Tell whether both verdicts occur among `count` programmes: a comparison of nothing proves nothing."""
    proven, hopeless = tally.pairs["proven", "proven"], tally.pairs["infeasible", "infeasible"]
    return proven + hopeless == count and proven >= 0.6 * count and hopeless >= 0.05 * count


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("part", drawn(range(20), range(20, 60), range(60, 200), quick=1), ids=str)
def test_same_optimum_as_every_choice_of_columns(measure: Measure, part: range) -> None:
    tally = against_every_choice(measure, part)
    assert tally.faults == []
    assert full(tally, len(part))


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("part", drawn(range(20), range(20, 60), range(60, 200), quick=1), ids=str)
def test_same_optimum_as_scip(measure: Measure, part: range) -> None:
    pytest.importorskip("pyscipopt", reason="SCIP comes with the extra `test`")
    tally = against_scip(measure, part)
    assert tally.faults == []
    assert full(tally, len(part))
