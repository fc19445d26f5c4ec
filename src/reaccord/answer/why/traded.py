"""Rows that are traded for others: how near each comes at no more than twice the deviation."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from reaccord.answer.judge import Judgement, Residual
from reaccord.answer.why.again import Again, judged_of
from reaccord.answer.why.on_lines import OnLines
from reaccord.answer.why.reason import SMALL, Reason, nearer
from reaccord.answer.why.shelf import best, held
from reaccord.contract import NEARLY_ZERO
from reaccord.solvers.switching import BoolArray

TIMES = 2.0
"""Times the deviation that a row may cost."""
MOST = 3
"""Rows that are asked about, those that count most."""
HARDEST, TRIES = 1e3, 5
"""How many times as much the row counts at most, and how often that is halved (in its logarithm)."""


def traded(again: Again, before: Judgement, rows: Sequence[Residual]) -> dict[str, Reason]:
    """Return a reason by row label where the row comes nearer and all others together pay for it.

    The row counts more and more, up to twice the deviation, on the lines of the formula and a source of the row.
    `before` judges the closest formula before rounding, `rows` are its residuals that are asked about.
    """
    found = {}
    for residual in rows[:MOST]:
        if again.left <= 0 or before.closeness.value <= NEARLY_ZERO:
            break
        with again.share(again.left):
            then = _nearest(again, before, residual)
        gain = nearer(residual, then, SMALL) if then is not None else 0.0
        if then is not None and gain:
            got = f"{then.achieved * 100:.2f} %"
            said = f"traded for others: {got} can be had at no more than twice the deviation"
            found[residual.row.label] = Reason(residual.row.label, "traded", said, gain)
    return found


def _nearest(again: Again, before: Judgement, residual: Residual) -> Residual | None:
    """Return the row in the formula where it is nearest, of those tried."""
    number = [r.row.label for r in before.residuals].index(residual.row.label)
    low, high, nearest = 0.0, np.log(HARDEST), None
    lines = (OnLines(again.programme, on) for on in _lines(again, residual))
    few = next((few for few in lines if few.poured() is not None), None)
    if few is None:
        return None
    weight = high
    for _ in range(TRIES):
        factor = again.programme.factor.copy()
        factor[number] *= np.exp(weight)
        amounts = few.poured(factor=factor)
        if amounts is not None and again.programme.value(amounts) <= TIMES * before.closeness.value:
            nearest, low = amounts, weight
        else:
            high = weight
        weight = (low + high) / 2
        if low == high:
            break
    return None if nearest is None else judged_of(again.study, nearest).residuals[number]


def _lines(again: Again, residual: Residual) -> Iterator[BoolArray]:
    """Yield the columns (n,) of the formula with the row's purest source, and without."""
    assert again.answer.amounts is not None
    used: BoolArray = np.asarray(again.answer.amounts > 0)
    members = residual.row.members
    holding = [stock for stock in again.study.stocks if held(members, stock) > 0]
    if holding and residual.residual < 0:
        wider = used.copy()
        wider[again.study.stocks.index(best(members, holding))] = True
        yield wider
    yield used
