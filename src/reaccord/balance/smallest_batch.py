"""The smallest batch of a formula in which every line can be weighed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from reaccord.answer.judge import Judgement, PouredLine
from reaccord.domain.stock import Stock
from reaccord.domain.study import Study
from reaccord.study.smallest_mass import exact


@dataclass(frozen=True)
class SmallestBatch:
    """Gram of accord; the line that decides stands beside it."""

    accord_g: float
    decided_by: Stock


def neat(study: Study, judged: Judgement) -> SmallestBatch:
    """Return the smallest batch in which every line can be weighed from the strongest bottle of its material."""
    return _smallest(judged, lambda line: [_strongest(study, line.stock)])


def diluted(study: Study, judged: Judgement) -> SmallestBatch:
    """Return the smallest batch in which every line can be weighed from any bottle or dilution of its material."""

    def others(line: PouredLine) -> list[Stock]:
        return [line.stock, *(s for s in study.stocks if s.key.material == line.stock.key.material)]

    return _smallest(judged, others)


def as_poured(judged: Judgement) -> SmallestBatch:
    """Return the smallest batch in which every line can be weighed from the stock it is poured from."""
    return _smallest(judged, lambda line: [line.stock])


def _strongest(study: Study, stock: Stock) -> Stock:
    """Return the stock itself, or the bottle it is made from."""
    if stock.recipe is None:
        return stock
    bottles = study.every_stock
    return next(bottle for bottle in bottles if bottle.key == stock.recipe.source)


def _smallest(judged: Judgement, choice: Callable[[PouredLine], Iterable[Stock]]) -> SmallestBatch:
    found = []
    for line in judged.lines:
        least = min(_least(line, stock) for stock in choice(line))
        found.append((least * judged.totals.accord_g, line.stock.key, line.stock))
    accord_g, _, stock = max(found)
    return SmallestBatch(accord_g, stock)


def _least(line: PouredLine, stock: Stock) -> float:
    """Return how many times the line must be poured so that it can be weighed from this stock."""
    grams = line.grams * float(exact(line.stock.key.strength) / exact(stock.key.strength))
    return stock.minimum_g / grams
