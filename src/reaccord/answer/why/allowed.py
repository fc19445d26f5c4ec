"""Whether a source that is set aside would help: solved again with it on the shelf."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from reaccord.answer.judge import Judgement, Residual
from reaccord.answer.why.again import Again
from reaccord.answer.why.offer import beside
from reaccord.answer.why.reason import Reason, nearer, points, twin
from reaccord.answer.why.shelf import Shelf, held
from reaccord.domain.stock import Stock, StockKey


def if_allowed(again: Again, before: Judgement, rows: Sequence[Residual]) -> dict[str, Reason | None]:
    """Return, by row label, what is to be said of a source that is set aside; None: nothing, it would not help.

    `before` judges the closest formula before rounding, `rows` are its residuals that are asked about. Where nothing
    else holds a row its source is named even so.
    """
    found: dict[str, Reason | None] = {}
    solved: dict[StockKey, Judgement | None] = {}
    shelf = Shelf(again.study, before)
    for residual in rows:
        label, members = residual.row.label, residual.row.members
        fact = shelf.shortfall(residual, optimised=True) if residual.residual <= 0 else None
        item = shelf.best_aside(members) if fact is not None and fact.code == "set_aside" else None
        if fact is None or item is None:
            continue
        if item.stock.key not in solved:
            solved[item.stock.key] = again.closest(*beside(again.study, again.programme, [_in_use(item.stock)]))
        then = solved[item.stock.key]
        alone = not any(held(members, stock) > 0 for stock in again.study.stocks)
        if then is None:
            found[label] = fact if alone else None
            continue
        gain = nearer(residual, twin(then, residual))
        said = f"{fact.sentence}; with it {points(gain) if gain else 'no nearer'}"
        found[label] = replace(fact, sentence=said, gain=gain or None) if gain or alone else None
    return found


def _in_use(stock: Stock) -> Stock:
    """Return a bottle as a new one: of one that is as good as empty there is enough."""
    return replace(stock, maximum_g=math.inf) if stock.maximum_g < max(stock.minimum_g, 1e-12) else stock
