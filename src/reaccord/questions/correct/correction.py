"""Whether and how to correct a batch: what to add, how close it comes, or that it is better begun again."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from reaccord.answer.amounts import in_grams, with_made
from reaccord.answer.fit import agree
from reaccord.answer.judge import Judgement, empty_vial, judge
from reaccord.answer.limits_held import LimitState
from reaccord.answer.rounding import closest_on_grid
from reaccord.answer.shorten import allowed
from reaccord.answer.why.conflict import cannot_hold_together
from reaccord.balance.dilution import Making, stocks_to_make
from reaccord.contract import Answer, Budget, LimitRow, gap_of
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import NoAnswer, NoFormula, SolverFault, UsageError
from reaccord.questions.correct.search import Added, closest_additions
from reaccord.questions.correct.statement import Range, Statement
from reaccord.solvers.possible import possible
from reaccord.study.changed import with_bottle_available
from reaccord.study.smallest_mass import exact

Advice = Literal["leave", "correct", "start over"]
Amounts = Mapping[StockKey, float]
WORTH = 0.01
"""Of the deviation: what additions must bring to be worth the weighing."""
FAR_OFF, OF_EMPTY = 2.0, 0.01
"""A batch this many times as far off as the formula, and so much of an empty vial farther, is better begun again (both
our own choice)."""
LARGER = 1e3
"""Times the growth allowed, for whether growing more would help at all."""
GROWTH = LimitKey("amount at most", ("the whole batch",))
OF_LINES = frozenset({"smallest", "steps", "strengths", "set aside"})
"""Limits on single weighings: a total of two weighings says nothing of them."""


@dataclass(frozen=True)
class Growth:
    """How far the batch may grow: gram of accord, or a share above what it is now."""

    accord_g: float | None = None
    share: float = 0.5


@dataclass(frozen=True)
class Correction:
    """What to do about a batch.

    `planned` is the formula, `poured` gram by stock, `added` gram to add on the balance's grid. `before` is the batch
    where the lines still to come are poured as planned and nothing else, `after` with what is added. `value` is that of
    the closest additions before they were made fewer and rounded, `answer` their proof. `allowed_g` is the most the
    accord may be, `whole_g` what it would be with every line in the formula's parts again (infinite: it cannot).
    """

    study: Study
    planned: Judgement
    poured: Amounts
    added: Amounts
    before: Judgement
    after: Judgement
    value: float
    answer: Answer
    allowed_g: float
    whole_g: float

    @property
    def advice(self) -> Advice:
        """Whether correcting beats leaving it, or neither is any good."""
        left, after = self.before.closeness.value, self.after.closeness.value
        far = FAR_OFF * self.planned.closeness.value + OF_EMPTY * empty_vial(self.study)
        if broken(self.before):
            return "correct" if after <= far else "start over"
        if min(left, after) > far:
            return "start over"
        return "correct" if left - after > WORTH * left else "leave"

    @property
    def to_come(self) -> bool:
        """Whether lines of the formula are still to be poured."""
        return any(not self.poured.get(line.stock.key) for line in self.planned.lines)

    @property
    def stocks(self) -> tuple[Making, ...]:
        """The dilutions to make for what is added: what is left of those made before is used first."""
        left = {made.key: made.left_g for made in stocks_to_make(self.study, self.poured)}
        return stocks_to_make(self.study, {key: g for key, g in self.added.items() if g > left.get(key, 0.0) + 1e-9})

    @property
    def bound(self) -> float:
        """Proven: no additions within the limits and the growth allowed come closer, amounts not rounded."""
        return min(self.answer.bound, self.value)

    @property
    def gap(self) -> float:
        """Relative gap between the value before rounding and the bound."""
        return gap_of(self.value, self.bound)


def broken(judged: Judgement) -> tuple[LimitState, ...]:
    """Return the limits of a whole batch that do not hold, single weighings aside."""
    return tuple(state for state in judged.broken if state.key.kind not in OF_LINES)


def correct(study: Study, formula: Amounts, poured: Amounts, growth: Growth, budget: Budget) -> Correction:
    """Return what to add to what was poured so that the batch is as close as it can be again.

    Raises
    ------
    NoFormula
        If nothing that can be added brings it inside every limit.
    NoAnswer
        If the time ran out before any additions were found.
    UsageError
        If the batch is larger already than it may grow.
    """
    budget = budget.running()
    whole = _available(study, (*formula, *poured))
    rest = {key: grams for key, grams in formula.items() if grams > 0 and not poured.get(key)}
    planned, before = judge(whole, formula), judge(whole, {**poured, **rest})
    accord, share = planned.totals.accord_g, study.settings.fit.shorten
    statement = Statement(whole, study.stocks, poured)
    within = _range(accord, before.totals.accord_g, statement.basis_g, growth)
    found, answer = closest_additions(statement, accord, within, share, budget)
    if found is None:
        raise _nothing(statement, accord, within, answer, budget)
    _agree(whole, statement, poured, found)
    enough = not (rest or broken(before)) and before.closeness.value <= allowed(answer.value, share)
    added = {} if enough else _on_grid(statement, found, within.most_g, budget)
    total = {key: _sum(poured.get(key, 0.0), added.get(key, 0.0)) for key in {*poured, *added}}
    after = _holding(judge(whole, total))
    return Correction(
        study=whole,
        planned=planned,
        poured=poured,
        added=added,
        before=before,
        after=after,
        value=answer.value,
        answer=answer,
        allowed_g=within.most_g,
        whole_g=accord * max(1.0, *(p / formula[key] if formula.get(key) else math.inf for key, p in poured.items())),
    )


def _holding(after: Judgement) -> Judgement:
    for state in broken(after):
        raise SolverFault(f"the corrected batch breaks a limit: {state.label}")
    return after


def _available(study: Study, keys: tuple[StockKey, ...]) -> Study:
    """Return the study in which everything poured may be poured: what is in the vial is there."""
    for item in study.set_aside:
        if item.stock.key in keys:
            key = item.stock.key if item.stock.recipe is None else item.stock.recipe.source
            study = with_bottle_available(study, key)
    return study


def _range(batch_g: float, left_g: float, poured_g: float, growth: Growth) -> Range:
    """Return what the batch may come to: no less than planned, unless it comes to less where it is left as it is."""
    least = max(poured_g, min(batch_g, left_g))
    most = growth.accord_g or max(poured_g, batch_g) * (1 + growth.share)
    if most < least * (1 - 1e-9):
        there = f"the batch makes {poured_g:.4g} g of accord already"
        there = there if most < poured_g else f"{least:.4g} g of accord are planned"
        raise UsageError(f"--grow {most:g} g: {there}. Let it grow to more.")
    return Range(least, max(most, least))


def _nothing(
    statement: Statement, batch_g: float, within: Range, answer: Answer, budget: Budget
) -> NoFormula | NoAnswer:
    """Return what to raise: nothing can be added, or nobody knows."""
    programme = statement.growing(batch_g, within)
    if answer.status != "infeasible" and (budget.over() or possible(programme)):
        return NoAnswer("No additions were found in the time given; a longer --seconds may find some.")
    together = cannot_hold_together(programme)
    listed = "".join(f"\n  {sentence}" for sentence in together)
    larger = possible(statement.growing(batch_g, Range(within.least_g, LARGER * within.most_g)))
    held = f" These cannot hold together with what is poured:{listed}\n" if together else " "
    return NoFormula(
        f"Nothing that can be added brings this batch inside every limit up to {within.most_g:.4g} g of accord.{held}"
        + ("Start over, or let it grow to more (--grow)." if larger else "However far it grows: start over.")
    )


def _on_grid(statement: Statement, found: Added, most_g: float, budget: Budget) -> dict[StockKey, float]:
    """Return gram added on the grid, by stock; the batch comes to no more than it may grow to."""
    programme = statement.at(found.accord_g)
    none = np.zeros(len(programme.columns))
    grown = LimitRow(GROWTH, "--grow", "how far the batch may grow", programme.basis, none, most_g)
    programme = replace(programme, limits=(*programme.limits, grown))
    amounts = np.zeros(len(programme.columns))
    amounts[: len(found.grams)], amounts[-1] = found.grams, statement.poured_g
    rounded = closest_on_grid(programme, with_made(programme, amounts), budget)
    if rounded is None:
        raise NoAnswer(
            "Additions exist, but none were found whose amounts are whole steps of the balance and hold every limit. "
            "Let the batch grow a little more (--grow)."
        )
    return in_grams(statement.stocks, rounded)


def _sum(poured: float, added: float) -> float:
    return float(exact(poured) + exact(added))


def _agree(study: Study, statement: Statement, poured: Amounts, found: Added) -> None:
    """Let the judge confirm the deviation before rounding."""
    total = dict(poured)
    for stock, grams in zip(statement.stocks, found.grams, strict=True):
        total[stock.key] = total.get(stock.key, 0.0) + max(float(grams), 0.0)
    agree(judge(study, total).closeness.value, found.value)
