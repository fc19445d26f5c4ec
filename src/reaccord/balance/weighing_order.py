"""The order in which the lines of a formula are weighed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reaccord.answer.judge import PouredLine
from reaccord.domain.stock import StockKey

TRACE = 0.01
"""Of what is poured without carrier: a neat line below it is a strong trace (common practice, no source)."""
HALF = 0.5


def weighing_order(lines: Iterable[PouredLine], first: Sequence[StockKey] = ()) -> list[PouredLine]:
    """Return carriers and the largest lines first, strong traces last; `first` before all (common practice, no source).

    A large line poured wrong is mended by a little more of the others, a trace poured into it is not lost on the glass.
    """
    asked = {key: place for place, key in enumerate(first)}

    def rank(line: PouredLine) -> tuple[object, ...]:
        stock = line.stock
        trace = line.share < TRACE and stock.key.strength == 1 and stock.active > HALF
        kind = 0 if stock.active <= HALF and stock.key.strength == 1 else 2 if trace else 1
        return asked.get(stock.key, len(asked)), kind, -line.grams, stock.key

    return sorted(lines, key=rank)
