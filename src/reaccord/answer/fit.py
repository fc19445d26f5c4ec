"""The closest formula for a study. Read this first."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from reaccord.answer.amounts import amounts_of, by_stock, in_grams
from reaccord.answer.fewer_lines import as_close, without_needless
from reaccord.answer.fitted import Ended, Fit
from reaccord.answer.judge import Judgement, judge
from reaccord.answer.rounding import (
    closest_on_grid,
    round_amounts,
    value_reached,
    without_off_grid,
)
from reaccord.answer.shorten import Shorter, shorter_than
from reaccord.answer.why import conflict
from reaccord.contract import Answer, Budget, FloatArray, Programme
from reaccord.domain.study import Study
from reaccord.findings import NoAnswer, NoFormula, SolverFault
from reaccord.programme import restate, state
from reaccord.solvers.choose import solve
from reaccord.solvers.possible import possible

AGREEMENT = 1e-6
"""Relative; solver and judge must give the same deviation for the same amounts."""
COARSE = 0.02
"""Of the batch: all lines' steps together, from where on a closer formula than the optimum may be had by missing it."""
AT_LEAST = 2.0
"""Seconds for another optimum where the first cannot be rounded, though the time is over: a formula in hand, lost."""


def fit(
    study: Study,
    budget: Budget | None = None,
    stated: Programme | None = None,
    *,
    before: Fit | None = None,
    shorten: bool = True,
) -> Fit:
    """Return the closest formula these bottles allow, or a shorter one hardly less close.

    Parameters
    ----------
    study
        From `load_study` or `study_from_frames`.
    budget
        Gap to stop at (default 0.1 %), seconds, a call that interrupts, a call that is told of progress.
    stated
        The study as a programme, where that is at hand already.
    before
        The answer to a study much like this one (`study.changed`): its formula is tried first, and what was proven of
        it is not proven again where it still holds. The verdict is the same as without, and the deviation before
        rounding the same within the gap; the formula may be another one within the gap.
    shorten
        Whether to use the study's `fit.shorten`. `cheapest` and `frontier` do not: what they compare with, and their
        points, are the closest, so that bounds and order hold. `many`, `overdose` and the base of `spread` do.

    Raises
    ------
    NoFormula
        If no formula holds all limits; the message names the limits in conflict.
    NoAnswer
        If the time ran out before any formula was found.
    """
    budget = (budget or Budget()).running()
    programme = stated or _stated(study, before)
    asked = replace(budget.rest(progress=budget.progress, start=budget.start, warm=budget.warm), found=budget.found)
    if before is not None:
        asked = replace(asked, start=amounts_of(programme, study, before.unrounded), warm=before.answer.warm)
    answer = solve(programme, asked)
    if answer.amounts is None:
        raise _nothing(study, programme, answer, budget)
    return finished(study, programme, answer, budget, shorten=shorten, ended=_ended(answer, asked))


def as_printed(closest: Fit, budget: Budget) -> Fit:
    """Return what `fit` prints for a study whose closest formula is known: shortened, if `fit.shorten` lets it be."""
    return finished(closest.study, closest.stated, closest.answer, budget.running(), ended=closest.ended)


def finished(
    study: Study,
    programme: Programme,
    answer: Answer,
    budget: Budget,
    *,
    shorten: bool = True,
    ended: Ended = "",
    soon: float = 0.0,
) -> Fit:
    """Return the fit of a study's answer that has amounts: without needless lines, shortened, rounded and judged.

    A rounding on its own lines that is as close within `soon`, relative, is taken, unless the balance is very coarse.
    """
    judged_before = _judged_before(study, programme, answer.formula)
    agree(judged_before.closeness.value, answer.value)
    solved, found = answer.formula, without_needless(study, programme, answer.formula)
    shorter, on_grid = shorter_than(programme, found, study.settings.fit.shorten if shorten else 0.0), None
    if shorter is not None and programme.value(shorter.amounts) <= as_close(programme.value(found)):
        found, on_grid, shorter = shorter.amounts, shorter.on_grid, None  # nothing had to be given up
    answer = replace(answer, amounts=found, value=programme.value(found))
    if found is not solved:
        judged_before = _judged_before(study, programme, found)
    own = _rounded_soon(programme, found, soon) if soon > 0 and shorter is None else None
    rounded, shorter = _weighed(study, programme, found, shorter, budget, on_grid) if own is None else (own, None)
    trimmed = None if shorter is None else _judged_before(study, programme, shorter.amounts)
    amounts = in_grams(study.stocks, rounded)
    judged = judge(study, amounts)
    if judged.broken:
        raise SolverFault(f"the rounded formula breaks a limit: {judged.broken[0].label}")
    judged = _with_binding(judged, trimmed or judged_before)
    unrounded = by_stock(study.stocks, found)
    return Fit(study, amounts, unrounded, judged, judged_before, answer, ended, trimmed, programme)


def _stated(study: Study, before: Fit | None) -> Programme:
    """Return the programme of a study, what it shares with the one before taken over."""
    if before is None or before.programme is None:
        return state(study)
    return restate(before.programme, before.study, study)


def _judged_before(study: Study, programme: Programme, amounts: FloatArray) -> Judgement:
    """Judge amounts (n,) before rounding."""
    judged = judge(study, by_stock(study.stocks, amounts), slack=AGREEMENT)
    agree(judged.closeness.value, programme.value(amounts))
    return judged


def _ended(answer: Answer, budget: Budget) -> Ended:
    if answer.status == "proven":
        return ""
    if budget.stop():
        return "interrupted"
    return "time" if answer.seconds >= budget.seconds else ""


def _nothing(study: Study, programme: Programme, answer: Answer, budget: Budget) -> NoFormula | NoAnswer:
    """Return what to raise: there is no formula, the time was too short, or nobody knows."""
    if answer.status == "infeasible" or not (budget.stop() or possible(programme)):
        return NoFormula(conflict.explain(study, programme))
    if budget.stop() or math.isfinite(budget.seconds):
        return NoAnswer()
    return NoAnswer(
        "The search ended without a formula and without a proof that there is none: some bottle without an end "
        "(no stock_g, and nothing of the target in it) would be needed in bulk. Give it a stock_g, or loosen a limit."
    )


def _weighed(
    study: Study,
    programme: Programme,
    found: FloatArray,
    shorter: Shorter | None,
    budget: Budget,
    own: FloatArray | None,
) -> tuple[FloatArray, Shorter | None]:
    """Return a formula (n,) on the grid and the shorter one if it is that, not the closest found."""
    if shorter is not None and shorter.near:
        return shorter.on_grid, shorter
    try:
        rounded = _on_grid(study, programme, found, budget, own)
    except NoAnswer:
        if shorter is None:
            raise
        return shorter.on_grid, shorter
    return (shorter.on_grid, shorter) if shorter is not None and shorter.instead_of(rounded) else (rounded, None)


def _rounded_soon(programme: Programme, amounts: FloatArray, soon: float) -> FloatArray | None:
    """Return amounts (n,) on the grid with the same lines, None where others may well be closer by more than `soon`."""
    if float(programme.step[amounts > 0].sum()) > COARSE * programme.batch_g:
        return None
    own, value = round_amounts(programme, amounts), programme.value(amounts)
    enough = own is not None and abs(value_reached(programme, own) - value) <= soon * value
    return own if enough else None


def _on_grid(
    study: Study, programme: Programme, amounts: FloatArray, budget: Budget, own: FloatArray | None
) -> FloatArray:
    """Return the optimum on the grid, shape (n,); what is left of the seconds may go into it."""
    rounded = closest_on_grid(programme, amounts, budget, _elsewhere(programme, amounts, budget), own)
    if rounded is not None:
        return rounded
    exactly = without_off_grid(programme)
    if exactly is not None and not possible(exactly):
        raise NoFormula(conflict.explain(study, exactly))
    raise NoAnswer(
        "A formula exists, but none was found whose amounts are whole steps of the balance and hold every "
        "limit. A finer readability, a larger batch or a looser limit makes way."
    )


def _elsewhere(programme: Programme, amounts: FloatArray, budget: Budget) -> Iterator[FloatArray]:
    """Yield other optima, for where the first cannot be rounded: with stocks, perhaps, whose grid lets it be.

    One without stocks whose steps cannot make a named amount; one with each limit tighter by what rounding does to it.
    """
    exactly = without_off_grid(programme)
    programme = programme if exactly is None else exactly
    moved = 0.5 * np.where(amounts > 0, programme.step, 0.0)
    tighter = tuple(replace(row, most=row.most - float(np.abs(row.amounts) @ moved)) for row in programme.limits)
    for asked in (exactly, replace(programme, limits=tighter)):
        left = replace(budget.rest(progress=budget.progress), seconds=max(budget.left(), AT_LEAST))
        answer = None if asked is None else solve(asked, left)
        if answer is not None and answer.amounts is not None:
            yield answer.amounts


def agree(judged: float, solved: float) -> None:
    """Raise `SolverFault` unless the judge finds the deviation that was solved for."""
    if not abs(judged - solved) <= 1e-9 + AGREEMENT * abs(solved):  # no number disagrees too
        raise SolverFault(f"the judge finds a deviation of {judged:.9g}, the solver said {solved:.9g}")


def _with_binding(judged: Judgement, before: Judgement) -> Judgement:
    """Take what binds from the optimum: rounding pulls amounts a little off their limits."""
    binding = {state.key for state in before.limits if state.binding}
    return replace(
        judged,
        limits=tuple(s._replace(binding=s.binding or s.key in binding) for s in judged.limits),
    )
