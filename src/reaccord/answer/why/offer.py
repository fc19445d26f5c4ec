"""Bottles that nobody has, or that are set aside, put beside a shelf to see what they would change."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from reaccord.contract import Programme
from reaccord.domain.stock import Content, Stock, StockKey
from reaccord.domain.study import Study
from reaccord.programme import restate

NOBODY = "on no shelf"


def pure(constituent: str) -> Stock:
    """Return a pure constituent without end, without a least and without a price."""
    alone = {constituent: 1.0}
    return Stock(StockKey(constituent, 1.0, "", NOBODY), Content(alone, alone, {}, 0.0, 0.0), 1.0, 1.0, 0.0)


def weaker(stock: Stock, part: float, carrier: str) -> Stock:
    """Return a bottle of a stock diluted to a part of its strength, weighed on the same balance."""
    content = stock.content
    return replace(
        stock,
        key=stock.key._replace(strength=stock.key.strength * part, carrier=carrier, lot=NOBODY),
        content=Content(
            _times(content.typical, part),
            _times(content.high, part),
            _times(content.materials, part),
            content.undeclared * part,
            content.undeclared_high * part,
        ),
        odorant=stock.odorant * part,
        active=stock.active * part,
        price_per_g=None if stock.price_per_g is None else stock.price_per_g * part,
        maximum_g=stock.maximum_g / part if math.isfinite(stock.maximum_g) else math.inf,
        recipe=None,
    )


def beside(study: Study, stated: Programme, more: Iterable[Stock]) -> tuple[Study, Programme]:
    """Return a study with these bottles more, and its programme."""
    more = tuple(more)
    there = {stock.key for stock in more}
    stocks = tuple(sorted((*study.stocks, *more), key=lambda stock: stock.key))
    aside = tuple(item for item in study.set_aside if item.stock.key not in there)
    wider = replace(study, stocks=stocks, set_aside=aside)
    return wider, restate(stated, study, wider)


def uncounted(study: Study, programme: Programme) -> Programme:
    """Return a programme in which the bottles that nobody has are no lines."""
    mine = np.ones(len(programme.columns))
    mine[[i for i, stock in enumerate(study.stocks) if stock.key.lot == NOBODY]] = 0.0
    return replace(programme, limits=tuple(replace(row, used=row.used * mine) for row in programme.limits))


def _times(shares: Mapping[str, float], part: float) -> dict[str, float]:
    return {name: share * part for name, share in shares.items()}
