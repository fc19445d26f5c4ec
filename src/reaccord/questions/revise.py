"""A formula in use, solved again so that it stays near: a bottle is gone, a lot has changed, a limit has moved."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from reaccord.answer.amounts import by_stock, in_grams
from reaccord.answer.judge import Judgement, judge
from reaccord.answer.rounding import round_amounts
from reaccord.answer.why import conflict
from reaccord.answer.why.reason import Reason
from reaccord.answer.why.reasons import reasons
from reaccord.contract import Answer, Budget, FloatArray, Programme, Status, standing
from reaccord.domain.lines import FormulaLine
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import NoAnswer, NoFormula, SolverFault
from reaccord.programme import state
from reaccord.questions.in_use import Formula
from reaccord.questions.near import InUse, Near
from reaccord.solvers.choose import solve
from reaccord.solvers.possible import possible
from reaccord.study.changed import with_keys, without_bottle

SLACK = 1e-6
MOST_OF_IT = 0.8
"""Of the seconds: for the search; the rest is for what each move buys."""


@dataclass(frozen=True)
class Move:
    """One line that changes, gram poured.

    `gain` is by how much the deviation rises, before rounding, if this line stays as it was and the other moves are
    poured anew; None where time was too short to know, or where it is `needed`: no formula holds every limit then.
    `batch_g` is the batch for which one would, where nothing but the batch needs it.
    """

    key: StockKey
    from_g: float
    to_g: float
    gain: float | None
    needed: bool
    batch_g: float | None = None


@dataclass(frozen=True)
class Revised:
    """The revised formula: gram by stock on the balance's grid; `bound` and `status` are of it before rounding.

    `before` judges the formula in use as if its bottles were there, None where a line of it is of no bottle any more.
    `moved` is the share of its neat mass that is moved.
    """

    study: Study
    before: Judgement | None
    amounts: Mapping[StockKey, float]
    judged: Judgement
    judged_before: Judgement
    moves: tuple[Move, ...]
    lost: tuple[FormulaLine, ...]
    moved: float
    bound: float
    status: Status
    nodes: int
    reasons: Mapping[str, Reason]

    @property
    def value(self) -> float:
        """The deviation before rounding."""
        return self.judged_before.closeness.value


def revise(
    study: Study,
    formula: Formula,
    *,
    moved: float | None = None,
    changes: int | None = None,
    budget: Budget | None = None,
) -> Revised:
    """Return the closest formula near one in use.

    Parameters
    ----------
    study
        As it is now; the batch is what the formula in use makes of it, or the study's own where that is not known.
    formula
        The formula in use, and what must not be poured any more.
    moved
        At most this share of the neat mass in use is moved: half of what is taken out and put in together.
    changes
        At most so many lines are changed, added or left out; those that must change count too.
    budget
        Gap; seconds for all of it; a call that interrupts.

    Raises
    ------
    InvalidInput
        If an amount is asked of a material that is gone.
    NoFormula, NoAnswer
        If no formula so near holds every limit, or none was found in time.
    """
    deadline = (budget or Budget()).running()
    now = _without(study, formula.without)
    before = None if formula.lost else judge(study, formula.amounts)
    if before is not None:
        now = with_keys(now, "batch", accord_g=before.totals.accord_g)
    programme = state(now)
    near = Near(programme, _in_use(now, programme, formula), moved, changes)
    start = near.columns(near.used.amounts)
    answer = solve(near.programme, deadline.rest(MOST_OF_IT, progress=deadline.progress, start=start))
    if answer.amounts is None:
        raise _nothing(now, formula, near, answer, deadline)
    amounts = near.amounts(answer.amounts)
    unrounded = judge(now, by_stock(now.stocks, amounts), slack=SLACK)
    rounded = in_grams(now.stocks, _rounded(near, amounts))
    judged = judge(now, rounded)
    if judged.broken:
        raise SolverFault(f"the revised formula breaks a limit: {judged.broken[0].label}")
    moves = _moves(_InPlace(now, formula, moved, changes), near, answer, rounded, deadline)
    return Revised(
        study=now,
        before=before,
        amounts=rounded,
        judged=judged,
        judged_before=unrounded,
        moves=tuple(moves),
        lost=formula.lost,
        moved=moved_share(formula, rounded),
        bound=min(answer.bound, unrounded.closeness.value),
        status=standing(answer.value, answer.bound, deadline.gap),
        nodes=answer.nodes,
        reasons=reasons(now, judged),
    )


def moved_share(formula: Formula, amounts: Mapping[StockKey, float]) -> float:
    """Return the share of the neat mass in use that another formula moves: half of what goes out and comes in."""
    lost = math.fsum(line.grams * (line.strength or 1.0) for line in formula.lost)
    whole = math.fsum(grams * key.strength for key, grams in formula.amounts.items()) + lost
    keys = formula.amounts.keys() | amounts.keys()
    apart = math.fsum(abs(amounts.get(key, 0.0) - formula.amounts.get(key, 0.0)) * key.strength for key in keys)
    return 0.5 * (apart + lost) / whole


def _without(study: Study, materials: Iterable[str]) -> Study:
    """Return the study in which every bottle of these materials is set aside."""
    for material in materials:
        for bottle in study.settled.bottles:
            if bottle.key.material == material:
                study = without_bottle(study, bottle.key)
    return study


def _in_use(study: Study, programme: Programme, formula: Formula) -> InUse:
    """Return the formula over the columns of the programme, each amount on the grid of its stock."""
    amounts, neat = np.zeros(len(programme.columns)), np.zeros(len(programme.columns))
    for i, stock in enumerate(study.stocks):
        neat[i] = stock.key.strength
        grams = formula.amounts.get(stock.key, 0.0)
        amounts[i] = round(grams / stock.step_g) * stock.step_g if stock.step_g else grams
    there = {stock.key for stock in study.stocks}
    gone = {key: grams for key, grams in formula.amounts.items() if grams > 0 and key not in there}
    gone_g = math.fsum(grams * key.strength for key, grams in gone.items())
    lost_g = math.fsum(line.grams * (line.strength or 1.0) for line in formula.lost)
    return InUse(amounts, neat, gone_g + lost_g, len(gone) + len(formula.lost))


def _rounded(near: Near, amounts: FloatArray) -> FloatArray:
    """Return amounts (n,) on the grid: what is kept is kept, what moves goes no farther than it may."""
    base, in_use = near.base, near.used.amounts
    kept = (amounts == in_use) & (in_use > 0)
    less, more = (amounts < in_use) & (amounts > 0), (amounts > in_use) & (in_use > 0)
    limits = list(base.limits)
    if near.moved is not None:
        weight = np.where(less, -near.used.neat, near.used.neat)
        weight[kept] = 0.0
        fixed = near.used.neat_g - float(near.used.neat @ np.where(kept | more, in_use, 0.0))
        fixed -= float(near.used.neat @ np.where(more, in_use, 0.0))
        row = near.programme.limits[-1]
        most = 2 * near.moved * near.used.neat_g - fixed
        limits.append(replace(row, amounts=weight, used=np.zeros(len(weight)), most=most))
    programme = replace(
        base,
        minimum=np.where(kept, in_use, np.where(more, np.maximum(base.minimum, in_use), base.minimum)),
        maximum=np.where(kept | less, np.minimum(base.maximum, in_use), base.maximum),
        step=np.where(kept, 0.0, base.step),
        limits=tuple(limits),
    )
    rounded = round_amounts(programme, amounts)
    if rounded is None:
        raise NoAnswer(
            "A formula so near exists, but none was found whose amounts are whole steps of the balance and hold every "
            "limit. A finer readability, or more that may move, makes way."
        )
    return rounded


@dataclass(frozen=True)
class _InPlace:
    """A study as it is now, a formula in use, and how near to stay."""

    study: Study
    formula: Formula
    moved: float | None
    changes: int | None

    def near(self, accord_g: float) -> Near:
        """Return what is near for another batch."""
        study = with_keys(self.study, "batch", accord_g=accord_g)
        programme = state(study)
        return Near(programme, _in_use(study, programme, self.formula), self.moved, self.changes)


def _nothing(study: Study, formula: Formula, near: Near, answer: Answer, deadline: Budget) -> NoFormula | NoAnswer:
    """Return what to raise: no formula at all, none so near and how near there is one, or none in time."""
    if answer.status != "infeasible":
        return NoAnswer()
    if not possible(near.base):
        return NoFormula(conflict.explain(study, near.base))
    caps = [f"{near.changes} line{'s' * (near.changes != 1)} changed"] if near.changes is not None else []
    caps += [f"{near.moved * 100:g} % of its mass moved"] if near.moved is not None else []
    said = [f"No formula holds every limit with at most {' and '.join(caps)}."]
    said += _least_moved(near, deadline) + _least_changed(near)
    left = float(near.base.basis @ near.used.amounts)
    if 0 < left < near.base.batch_g * (1 - 1e-6):
        asked = _InPlace(study, formula, near.moved, near.changes).near(left)
        if possible(asked.programme):
            said.append(
                f"Only the batch forbids it: for {left:.4g} g instead of {near.base.batch_g:.4g} g there is one."
            )
    return NoFormula(" ".join(said))


def _least_moved(near: Near, deadline: Budget) -> list[str]:
    """Say how much must move at least, where that is capped and lines enough may change."""
    least = None if near.moved is None else solve(near.least_moved(), deadline.rest())
    if least is None or least.amounts is None:
        return []
    share = 0.5 * (least.bound + near.used.gone_g) / near.used.neat_g
    return [f"It takes at least {math.ceil(share * 1000 - 1e-6) / 10:g} % moved."]


def _least_changed(near: Near) -> list[str]:
    """Say how many lines must change at least, where that is capped: fewer are proven not to be enough."""
    if near.changes is None:
        return []
    cap = "" if near.moved is None else f" with at most {near.moved * 100:g} % moved"
    fewest, most = near.changes, len(near.base.columns) + near.used.gone_lines
    if near.moved is not None and not possible(Near(near.base, near.used, near.moved, None).programme):
        cap, moved = ", whatever is moved", None
    else:
        moved = near.moved
    enough = next(k for k in range(fewest, most + 1) if possible(Near(near.base, near.used, moved, k).programme))
    return [f"It takes at least {enough} line{'s' * (enough != 1)} changed{cap}."] if enough > fewest else []


def _moves(
    place: _InPlace, near: Near, answer: Answer, rounded: Mapping[StockKey, float], deadline: Budget
) -> list[Move]:
    """Return what changes, what buys most first: each line left as it was and the other moves poured anew."""
    column = {stock.key: i for i, stock in enumerate(place.study.stocks)}
    in_use = place.formula.amounts
    keys = [key for key in sorted(in_use.keys() | rounded.keys()) if _changed(place.formula, rounded, key)]
    moving = {column[key] for key in keys if key in column}
    moves = []
    for key in keys:
        old, new = in_use.get(key, 0.0), rounded.get(key, 0.0)
        kept = near.only_moving(moving - {column[key]}) if key in column else None
        again = None if kept is None or deadline.over() else solve(kept, deadline.rest())
        needed = kept is None or (again is not None and again.status == "infeasible")
        gain = None if again is None or again.amounts is None else max(again.value - answer.value, 0.0)
        batch = _batch_that_would_do(place, {**rounded, key: old}, moving - {column[key]}) if again and needed else None
        moves.append(Move(key, old, new, gain, needed, batch))
    return sorted(moves, key=lambda move: (not move.needed, -(move.gain or 0.0), move.key))


def _batch_that_would_do(place: _InPlace, amounts: Mapping[StockKey, float], moving: set[int]) -> float | None:
    """Return what amounts make, if a formula for that moves no other lines than these and holds every limit."""
    accord_g = judge(place.study, amounts).totals.accord_g
    if accord_g <= 0:
        return None
    kept = place.near(accord_g).only_moving(moving)
    return accord_g if kept is not None and possible(kept) else None


def _changed(formula: Formula, rounded: Mapping[StockKey, float], key: StockKey) -> bool:
    return not math.isclose(formula.amounts.get(key, 0.0), rounded.get(key, 0.0), rel_tol=1e-9, abs_tol=1e-12)
