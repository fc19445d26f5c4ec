"""Of formulas that are equally close, one of fewer lines: what changes nothing is not weighed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

from reaccord.contract import NEARLY_ZERO, FloatArray, Programme
from reaccord.domain.study import Study

SAME = 1e-9
"""Relative; deviations closer than this are the same."""
HELD = 1e-10
"""Relative; a limit passed by less is held: sums of rounded numbers come no closer."""
OWN = frozenset({"cost", "on hand", "made"})
"""Limits in which twins may differ: their prices and what there is of each. Whether these hold is asked apart."""


def without_needless(study: Study, programme: Programme, amounts: FloatArray) -> FloatArray:
    """Return amounts (n,) in gram, as close as those given, without lines that change nothing.

    A line is left out if the rest, poured in proportion, is as close and holds every limit. Of twins, two bottles that
    are the same for closeness and every limit but for price and grams on hand, one is poured, the cheaper where either
    would do.
    """
    most = max(programme.value(amounts) * (1 + SAME), NEARLY_ZERO)
    noise = max(programme.excess(amounts), HELD)
    changed = True
    while changed:
        changed = False
        for fewer in _fewer(study, programme, amounts):
            if programme.value(fewer) <= most and programme.excess(fewer) <= noise:
                amounts, changed = fewer, True
                break
    return amounts


def _fewer(study: Study, programme: Programme, amounts: FloatArray) -> Iterator[FloatArray]:
    """Yield formulas of one line less, those first that change least, and dearer twins changed for cheaper ones."""
    used = [i for i in range(len(study.stocks)) if amounts[i] > 0]
    for i in sorted(used, key=lambda i: (programme.basis[i] * amounts[i], i)):
        without = amounts.copy()
        without[i] = 0.0
        makes = float(programme.basis @ without)
        if makes > 0:
            yield _with_made(programme, without * (programme.batch_g / makes))
    prices = [math.inf if stock.price_per_g is None else stock.price_per_g for stock in study.stocks]
    for i, j in product(used, range(len(study.stocks))):
        if i == j or not _twins(study, programme, i, j):
            continue
        together = amounts[i] + amounts[j]
        cheaper = prices[j] < prices[i]
        if cheaper or (amounts[j] > 0 and ((prices[j], j) < (prices[i], i) or together > programme.maximum[i])):
            moved = amounts.copy()
            moved[i], moved[j] = 0.0, together
            yield _with_made(programme, moved)


def _twins(study: Study, programme: Programme, i: int, j: int) -> bool:
    """Whether a gram of two stocks is the same for closeness, and for the limits too unless they are lots."""
    if programme.basis[i] != programme.basis[j] or (programme.content[:, i] != programme.content[:, j]).any():
        return False
    return study.stocks[i].key.material == study.stocks[j].key.material or all(
        row.amounts[i] == row.amounts[j] and row.used[i] == row.used[j]
        for row in programme.limits
        if row.key.kind not in OWN
    )


def _with_made(programme: Programme, amounts: FloatArray) -> FloatArray:
    """Return amounts (n,) with the grams made of each dilution as they must be."""
    for made in programme.made:
        amounts[made.column] = max(float(amounts[made.stock]), made.least_g) if amounts[made.stock] > 0 else 0.0
    return amounts
