"""Formulas nearly as close as the closest that truly differ from it and from each other.

Each does without bottles of all those before it, or moves so much of their neat mass.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

from reaccord.answer.amounts import by_stock, in_grams
from reaccord.answer.fewer_lines import as_close
from reaccord.answer.fit import as_printed, fit
from reaccord.answer.fitted import Fit
from reaccord.answer.judge import Judgement, judge
from reaccord.answer.rounding import round_amounts
from reaccord.contract import Answer, Budget, FloatArray, Status, standing
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import NoFormula
from reaccord.programme import state
from reaccord.questions.amount_range import AmountRange, amount_range
from reaccord.questions.apart import apart, materials_of
from reaccord.questions.cheapest import Within
from reaccord.questions.epsilon_constraint import allowed
from reaccord.questions.moved_apart import Moved, closest_far, moved_between, neat_of
from reaccord.solvers.decide import NEVER, decide

RANGES = 0.5
"""Of the seconds: for the ranges."""
AGAIN = 4
"""How often all is asked again because one of the others was closer than the closest found."""
Told = Callable[[int, int], None]


@dataclass(frozen=True)
class Differing:
    """What makes a formula another one, of each before it: so many bottles left out, so much moved, or both."""

    bottles: int = 2
    moved: Moved | None = None


@dataclass(frozen=True)
class Alternative:
    """A formula: gram by stock on the balance's grid; `value`, `bound` and `status` are of it before rounding.

    None that differs so from each formula before it has less than `bound`. `moved` are the shares of their mass without
    carrier that it moves, of the closest first.
    """

    amounts: Mapping[StockKey, float]
    judged: Judgement
    value: float
    bound: float
    status: Status
    moved: tuple[float, ...]


@dataclass(frozen=True)
class Alternatives:
    """The closest formula and others with a deviation of at most `within`, before rounding, closest first.

    `printed` is what `fit` pours instead of the closest: shorter, where `fit.shorten` lets it be.

    `complete`: no other formula within it differs so from each of these. `ranges` are of the materials of any of them,
    of those that were asked for.
    """

    study: Study
    closest: Fit
    printed: Fit
    within: float
    differing: Differing
    formulas: tuple[Alternative, ...]
    complete: bool
    ranges: tuple[AmountRange, ...]
    status: Status
    gap: float


def alternatives(
    study: Study,
    within: Within,
    count: int = 3,
    differing: Differing = Differing(),
    budget: Budget | None = None,
    told: Told | None = None,
    *,
    ranges: Collection[str] | None = None,
) -> Alternatives:
    """Return other formulas nearly as close.

    Parameters
    ----------
    study
        All its limits stay.
    within
        A deviation, or a share above that of the closest formula (rounded, and never shortened for `fit.shorten`).
    count
        How many at most, beside the closest.
    differing
        What makes a formula another one.
    budget
        Gap of each search; seconds for all of it; a call that interrupts.
    told
        Is told of searches done, and of how many there are.
    ranges
        Materials of which it is told how little and how much there can be; None: all of these formulas'.

    Raises
    ------
    NoFormula, NoAnswer
        If there is no formula, or none in time.
    """
    deadline = (budget or Budget()).running()
    start: FloatArray | None = None
    for _ in range(AGAIN):
        closest = fit(study, deadline.rest(start=start), shorten=False)
        most = _allowed(within, closest)
        asked = _Asked(study, closest, most, differing, deadline)
        complete = asked.run(count, told)
        start = asked.nearer
        if start is None or deadline.over():
            break
    ends = asked.ranges(ranges, told)
    proven = closest.answer.status == "proven" and all(one.status == "proven" for one in asked.found)
    proven = proven and all(one.proven for one in ends) and (complete or len(asked.found) == count)
    status: Status = "proven" if proven else "feasible"
    return Alternatives(
        study,
        closest,
        as_printed(closest, deadline.rest()),
        most,
        differing,
        tuple(asked.found),
        complete,
        tuple(ends),
        status,
        deadline.gap,
    )


def _allowed(within: Within, closest: Fit) -> float:
    """Return the deviation allowed.

    Raises
    ------
    NoFormula
        If none is that close.
    """
    value = closest.judged.closeness.value
    most = within.of(value)
    if most < closest.bound:
        raise NoFormula(
            f"No formula deviates by as little as {most:g}: the closest by {value:.4g}. Let --within be more."
        )
    return most


class _Asked:
    """The searches of one question."""

    def __init__(self, study: Study, closest: Fit, within: float, differing: Differing, deadline: Budget) -> None:
        self.study, self.closest, self.within, self.differing = study, closest, within, differing
        self.deadline, self.programme = deadline, state(study)
        self.known = [closest.answer.formula]
        self.found: list[Alternative] = []
        self.nearer: FloatArray | None = None

    def run(self, count: int, told: Told | None) -> bool:
        """Find the formulas; return whether there are no others. One `nearer` than the closest ends it."""
        while len(self.found) < count and not self.deadline.over():
            used = [materials_of(self.study, amounts) for amounts in self.known]
            if min(len(materials) for materials in used) < self.differing.bottles:
                return True
            answer = self._next(used, count)
            if told is not None:
                told(len(self.found) + 1, count)
            if answer.bound > allowed(self.within) or answer.status == "infeasible":
                return True
            if answer.amounts is None or answer.value > allowed(self.within):
                return False
            amounts = answer.amounts[: len(self.programme.columns)]
            self.known.append(amounts)
            self.found.append(self._alternative(amounts, answer))
            if as_close(answer.value) < self.closest.answer.value:
                self.nearer = amounts
                return False
        return False

    def _next(self, used: list[frozenset[str]], count: int) -> Answer:
        programme = apart(self.study, self.programme, used, self.differing.bottles)
        budget = self.deadline.rest(1 - RANGES, warm=self.closest.answer.warm)
        if self.differing.moved is not None:
            others = [neat_of(self.study, by_stock(self.study.stocks, amounts)) for amounts in self.known]
            return closest_far(self.study, programme, others, self.differing.moved, allowed(self.within), budget)
        return decide(programme, NEVER, budget, worth=allowed(self.within), gap=self.deadline.gap)

    def _alternative(self, amounts: FloatArray, answer: Answer) -> Alternative:
        rounded = round_amounts(self.programme, amounts)
        poured = in_grams(self.study.stocks, amounts if rounded is None else rounded)
        bound = min(max(answer.bound, self.closest.bound), answer.value)
        status = standing(answer.value, bound, self.deadline.gap)
        before = [self.closest.amounts, *(one.amounts for one in self.found)]
        moved = tuple(_moved(self.study, poured, each) for each in before)
        return Alternative(poured, judge(self.study, poured), answer.value, bound, status, moved)

    def ranges(self, asked: Collection[str] | None, told: Told | None) -> list[AmountRange]:
        """Return how much of each material of these formulas there can be, of those asked for."""
        used = frozenset().union(*(materials_of(self.study, amounts) for amounts in self.known))
        materials = sorted(used if asked is None else used.intersection(asked))
        found = []
        for done, material in enumerate(materials, start=1):
            part = Budget(self.deadline.gap, self.deadline.left() / (len(materials) - done + 1), self.deadline.stop)
            begun = part.rest(warm=self.closest.answer.warm).running()
            found.append(amount_range(self.study, self.programme, material, self.within, self.known, begun))
            if told is not None:
                told(done, len(materials))
        return found


def _moved(study: Study, one: Mapping[StockKey, float], other: Mapping[StockKey, float]) -> float:
    """Return the share of the neat mass of another formula that one moves, both gram by stock."""
    neat, before = neat_of(study, one), neat_of(study, other)
    return moved_between(neat, before) / math.fsum(before.values())
