"""Formulas nearly as close as the closest that truly differ: each does without bottles of all those before it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

from reaccord.answer.amounts import in_grams
from reaccord.answer.fit import Fit, fit
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
from reaccord.solvers.decide import NEVER, decide

RANGES = 0.5
"""Of the seconds: for the ranges."""
Told = Callable[[int, int], None]


@dataclass(frozen=True)
class Alternative:
    """A formula: gram by stock on the balance's grid; `value`, `bound` and `status` are of it before rounding.

    None that does without so many bottles of each formula before it has less than `bound`.
    """

    amounts: Mapping[StockKey, float]
    judged: Judgement
    value: float
    bound: float
    status: Status


@dataclass(frozen=True)
class Alternatives:
    """The closest formula and others with a deviation of at most `within`, before rounding, closest first.

    `complete`: no other formula within it does without `dropped` bottles of each of these. `ranges` are of the
    materials of any of them, of those that were asked for.
    """

    study: Study
    closest: Fit
    within: float
    dropped: int
    formulas: tuple[Alternative, ...]
    complete: bool
    ranges: tuple[AmountRange, ...]
    status: Status


def alternatives(
    study: Study,
    within: Within,
    count: int = 3,
    dropped: int = 2,
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
    dropped
        So many of the bottles (materials) of each formula before it another one does without, 1 at least.
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
    closest = fit(study, deadline.rest(), shorten=False)
    value = closest.judged.closeness.value
    most = within.of(value)
    if most < closest.bound:
        raise NoFormula(
            f"No formula deviates by as little as {most:g}: the closest by {value:.4g}. Let --within be more."
        )
    asked = _Asked(study, closest, most, dropped, deadline)
    complete = asked.run(count, told)
    ends = asked.ranges(ranges, told)
    proven = closest.answer.status == "proven" and all(one.status == "proven" for one in asked.found)
    proven = proven and all(one.proven for one in ends) and (complete or len(asked.found) == count)
    status: Status = "proven" if proven else "feasible"
    return Alternatives(study, closest, asked.within, dropped, tuple(asked.found), complete, tuple(ends), status)


class _Asked:
    """The searches of one question."""

    def __init__(self, study: Study, closest: Fit, within: float, dropped: int, deadline: Budget) -> None:
        self.study, self.closest, self.within, self.dropped = study, closest, within, dropped
        self.deadline, self.programme = deadline, state(study)
        self.known = [closest.answer.formula]
        self.found: list[Alternative] = []

    def run(self, count: int, told: Told | None) -> bool:
        """Find the formulas; return whether there are no others."""
        while len(self.found) < count and not self.deadline.over():
            used = [materials_of(self.study, amounts) for amounts in self.known]
            if min(len(materials) for materials in used) < self.dropped:
                return True
            answer = self._next(used)
            if told is not None:
                told(len(self.found) + 1, count)
            if answer.bound > allowed(self.within) or answer.status == "infeasible":
                return True
            if answer.amounts is None or answer.value > allowed(self.within):
                return False
            amounts = answer.amounts[: len(self.programme.columns)]
            self.known.append(amounts)
            self.found.append(self._alternative(amounts, answer))
        return False

    def _next(self, used: list[frozenset[str]]) -> Answer:
        programme = apart(self.study, self.programme, used, self.dropped)
        budget = self.deadline.rest(1 - RANGES, warm=self.closest.answer.warm)
        return decide(programme, NEVER, budget, worth=allowed(self.within), gap=self.deadline.gap)

    def _alternative(self, amounts: FloatArray, answer: Answer) -> Alternative:
        rounded = round_amounts(self.programme, amounts)
        poured = in_grams(self.study.stocks, amounts if rounded is None else rounded)
        bound = min(answer.bound, answer.value)
        status = standing(answer.value, bound, self.deadline.gap)
        return Alternative(poured, judge(self.study, poured), answer.value, bound, status)

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
