"""The closest that additions can bring a batch again, and of batches as close the nearest to the one wanted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reaccord.answer.amounts import with_helpers
from reaccord.answer.shorten import shorter_than
from reaccord.contract import NEARLY_ZERO, Answer, Budget, FloatArray, Programme, standing
from reaccord.questions.correct.statement import Range, Statement
from reaccord.solvers.choose import solve
from reaccord.solvers.on_columns import closest_on

AS_CLOSE = 1e-3
"""Relative; so much closeness may go into a batch nearer to the one wanted: as the usual gap of a proof."""
HALVINGS = 20
LAST_SECONDS = 2.0
"""For a batch that is held to when the time is over before an answer holds every minimum."""


@dataclass(frozen=True)
class Added:
    """Gram added of each stock (n,), not rounded, for a batch of `accord_g`."""

    grams: FloatArray
    accord_g: float
    value: float


def closest_additions(
    statement: Statement, batch_g: float, within: Range, share: float, budget: Budget
) -> tuple[Added | None, Answer]:
    """Return additions for a batch within a range, or None, and the proof of the closest.

    They may be less close by `share` (0: they are not) where fewer stocks do, and by `AS_CLOSE` where a batch nearer to
    `batch_g` does.
    Rows for minima and grams on hand come in where an answer breaks them: every answer before is of a relaxation, so
    that its bound holds.
    """
    rows, bound, start, nodes = set[int](), 0.0, None, 0
    while True:
        programme = statement.growing(batch_g, within, rows)
        answer = solve(programme, budget.rest(progress=budget.progress, start=start))
        bound, nodes = max(bound, answer.bound), nodes + answer.nodes
        if answer.amounts is None:
            return None, answer
        broken = set(statement.broken(programme, answer.amounts)) - rows
        if not broken:
            break
        if budget.over():
            return _held_to(statement, programme, answer, bound, within)
        rows |= broken
        start = answer.amounts
    status = standing(answer.value, bound, budget.gap)
    answer = replace(answer, bound=min(bound, answer.value), nodes=nodes, status=status)
    used = np.flatnonzero(answer.formula[: len(statement.stocks)] > 0)
    programme = statement.growing(batch_g, within, used.tolist())
    shorter = shorter_than(programme, answer.formula, share)
    amounts = answer.formula if shorter is None else shorter.amounts
    accord_g = statement.batch_of(programme, amounts)
    found = Added(statement.additions(programme, amounts, accord_g), accord_g, programme.value(amounts))
    return _nearest_batch(statement, found, within, batch_g), answer


def _held_to(
    statement: Statement, programme: Programme, answer: Answer, bound: float, within: Range
) -> tuple[Added | None, Answer]:
    """Return additions for one batch where there is no time for any.

    The batch is the one come to, the one it becomes with what broke its ends put at them, or the least.
    """
    accord_g = statement.batch_of(programme, answer.formula)
    grams = statement.additions(programme, answer.formula, accord_g)
    mended = np.where(grams > 0, np.clip(grams, statement.least, np.maximum(statement.most, statement.least)), 0.0)
    other_g = statement.basis_g + float(programme.basis[: len(mended)] @ mended)
    for batch_g in (accord_g, min(max(other_g, within.least_g), within.most_g), within.least_g):
        found = solve(statement.at(batch_g), Budget(seconds=LAST_SECONDS))
        if found.amounts is not None:
            found = replace(found, bound=min(bound, found.value), status="feasible")
            return Added(found.formula[: len(statement.stocks)], batch_g, found.value), found
    return None, replace(answer, amounts=None, status="no_answer", bound=bound)


def _nearest_batch(statement: Statement, found: Added, within: Range, wanted_g: float) -> Added:
    """Return the same stocks in the batch nearest to the one wanted that is as close.

    With these stocks in use the deviation is convex in 1/G: batches as close are an interval: halving finds its end.
    """
    aim = min(max(wanted_g, within.least_g), within.most_g)
    most = max(found.value * (1 + AS_CLOSE), NEARLY_ZERO)
    best, far = found, aim
    for turn in range(HALVINGS + 1):
        here = 0.5 * (far + best.accord_g) if turn else aim
        other = _with(statement, found, here)
        if other is not None and other.value <= most:
            best = other
        else:
            far = here
        if abs(far - best.accord_g) <= 1e-6 * best.accord_g:
            break
    return best


def _with(statement: Statement, found: Added, accord_g: float) -> Added | None:
    """Return the closest additions of the same stocks for one batch."""
    programme = statement.at(accord_g)
    on = np.zeros(len(programme.columns), dtype=bool)
    on[: len(found.grams)] = found.grams > 0
    on[-1] = True
    with_helpers(programme, on)
    kept = np.flatnonzero(on)
    amounts = closest_on(programme.only(kept))(np.ones(len(kept), dtype=bool))
    if amounts is None:
        return None
    whole = np.zeros(len(on))
    whole[kept] = amounts
    return Added(whole[: len(found.grams)], accord_g, programme.value(whole))
