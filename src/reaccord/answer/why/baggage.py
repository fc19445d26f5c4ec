"""Rows that are short because of what comes with their source: they are nearer where too much of that is forgiven."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from reaccord.answer.judge import Judgement, Residual
from reaccord.answer.why.again import Again, judged_of
from reaccord.answer.why.on_lines import OnLines
from reaccord.answer.why.reason import SMALL, Reason, nearer, twin
from reaccord.answer.why.shelf import basis_of, best, figure, held
from reaccord.contract import FloatArray
from reaccord.domain.stock import Stock
from reaccord.domain.study import Study

OPPOSED = 0.8
"""Part of the good of a gram more that the harm must undo, to be what keeps a bottle out."""
NOISE = 1e-12
ANY = 100.0
"""Times the accord: a share beyond any."""
WORTH_NAMING = 0.1
"""Of the harm: a row that makes less of it is not named,"""
NAMED = 2
"""and so many are."""
MOST = 2
"""Questions, those of the rows that count most."""


def baggage(again: Again, before: Judgement, rows: Sequence[Residual]) -> dict[str, Reason]:
    """Return a reason by row label where the purest source brings along what is over its target already.

    `before` judges the closest formula before rounding, `rows` are its residuals that are asked about. Solved
    again with no share of what is named being too much.
    """
    study, found = again.study, dict[str, Reason]()
    solved: dict[tuple[str, ...], Judgement | None] = {}
    for residual in rows:
        holding = [stock for stock in study.stocks if held(residual.row.members, stock) > 0]
        if residual.residual >= 0 or residual.kind != "named" or not holding or len(solved) == MOST:
            continue
        source = best(residual.row.members, holding)
        over = _over(study, before, source)
        if not over:
            continue
        asked = tuple(one.row.label for one in over)
        if asked not in solved and not _promising(again, residual, source, over):
            continue
        if asked not in solved:
            solved[asked] = _forgiven(again, over)
        then = solved[asked]
        gain = nearer(residual, twin(then, residual), SMALL) if then else 0.0
        if gain:
            said = _said(study, residual, source, over)
            found[residual.row.label] = Reason(residual.row.label, "baggage", said, gain)
    return found


def _over(study: Study, before: Judgement, source: Stock) -> list[Residual]:
    """Return the rows over their targets that a gram more of a source first makes worse, if they undo its good."""
    ground, squares = basis_of(study, source), study.settings.fit.measure == "squares"
    moves = []
    for residual in before.residuals:
        slope = residual.scaled if squares else math.copysign(1.0, residual.scaled) if residual.scaled else 0.0
        gram = _gram(source, residual)
        moves.append((residual.row.factor * slope * (gram - residual.achieved * ground), residual, gram))
    good, bad = (math.fsum(sign * move for move, *_ in moves if sign * move > 0) for sign in (-1, 1))
    if good <= NOISE or bad < OPPOSED * good:
        return []
    worst = sorted((m for m in moves if m[0] >= WORTH_NAMING * bad), key=lambda m: (-m[0], m[1].row.label))
    return [residual for _, residual, gram in worst if residual.residual > 0 and gram > 0][:NAMED]


def _forgiven(again: Again, over: Sequence[Residual]) -> Judgement | None:
    """Judge the closest formula where of some rows no share is too much."""
    return again.closest(again.study, replace(again.programme, high=_high(again, over)))


def _high(again: Again, over: Sequence[Residual]) -> FloatArray:
    """Return the upper ends (K,) where of some rows no share is too much."""
    labels = {residual.row.label for residual in over}
    free = np.array([label in labels for label in again.programme.rows])
    return np.where(free, ANY, again.programme.high)


def _promising(again: Again, residual: Residual, source: Stock, over: Sequence[Residual]) -> bool:
    """Whether the row comes nearer on the lines at hand and its source already: where it does not, none is searched."""
    on = again.answer.formula > 0
    on[again.study.stocks.index(source)] = True
    amounts = OnLines(again.programme, on).poured(high=_high(again, over))
    return amounts is None or nearer(residual, twin(judged_of(again.study, amounts), residual), SMALL) > 0


def _said(study: Study, residual: Residual, source: Stock, over: Sequence[Residual]) -> str:
    members = residual.row.members
    comes = " and ".join(
        f"{figure(_gram(source, one) / held(members, source))} points of {_called(one)}" for one in over
    )
    who = {stock.key.material for stock in study.every_stock if held(members, stock) > 0}
    name = source.key.material
    first = f"only {name} brings it" if len(who) == 1 else f"best source {name}"
    return f"{first}: a point of it comes with {comes}"


def _gram(stock: Stock, residual: Residual) -> float:
    return stock.content.undeclared if residual.kind == "undeclared" else held(residual.row.members, stock)


def _called(residual: Residual) -> str:
    return "what nobody declares" if residual.kind == "undeclared" else residual.row.label
