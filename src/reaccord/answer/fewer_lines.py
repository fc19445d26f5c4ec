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


def without_needless(study: Study, programme: Programme, amounts: FloatArray) -> FloatArray:
    """Return amounts (n,) in gram, as close as those given, without lines that change nothing.

    A line is left out if the rest, poured in proportion, is as close and holds every limit. Two bottles of the same
    content (lots of one material) are poured from one, the cheaper where either would do.
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
    """Yield formulas of one line less, those first that change least, and dearer lots changed for cheaper ones."""
    used = [i for i in range(len(study.stocks)) if amounts[i] > 0]
    for i in sorted(used, key=lambda i: (programme.basis[i] * amounts[i], i)):
        without = amounts.copy()
        without[i] = 0.0
        makes = float(programme.basis @ without)
        if makes > 0:
            yield without * (programme.batch_g / makes)
    prices = [math.inf if stock.price_per_g is None else stock.price_per_g for stock in study.stocks]
    for i, j in product(used, range(len(study.stocks))):
        if i == j or not _alike(study, programme, i, j):
            continue
        together = amounts[i] + amounts[j]
        cheaper = prices[j] < prices[i]
        if cheaper or (amounts[j] > 0 and ((prices[j], j) < (prices[i], i) or together > programme.maximum[i])):
            moved = amounts.copy()
            moved[i], moved[j] = 0.0, together
            yield moved


def _alike(study: Study, programme: Programme, i: int, j: int) -> bool:
    """Whether two stocks are lots of one material, a gram of both being the same for closeness."""
    return bool(
        study.stocks[i].key.material == study.stocks[j].key.material
        and programme.basis[i] == programme.basis[j]
        and (programme.content[:, i] == programme.content[:, j]).all()
    )
