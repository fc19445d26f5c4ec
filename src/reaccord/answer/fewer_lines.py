"""Of formulas that are equally close, one of fewer lines: what changes nothing is not weighed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

import numpy as np

from reaccord.answer.amounts import with_made
from reaccord.contract import NEARLY_ZERO, FloatArray, Programme
from reaccord.domain.study import Study

SAME = 1e-9
"""Relative; deviations closer than this are the same."""
HELD = 1e-10
"""Relative; a limit passed by less is held: sums of rounded numbers come no closer."""
OWN = frozenset({"cost", "on hand", "made"})
"""Limits in which twins may differ: their prices and what there is of each. Whether these hold is asked apart."""


FINE = 100
"""Steps of the balance: of what is poured in so many rounding changes half a per cent, and no dilution is needed."""


def without_needless(study: Study, programme: Programme, amounts: FloatArray) -> FloatArray:
    """Return amounts (n,) in gram, as close as those given, without lines that change nothing.

    A line is left out if the rest, poured in proportion, is as close and holds every limit; of a material that stands
    there at several strengths the strongest that can be weighed well is poured. Of twins, two bottles that
    are the same for closeness and every limit but for price and grams on hand, one is poured, the cheaper where either
    would do.
    """
    most = as_close(programme.value(amounts))
    noise = max(programme.excess(amounts), HELD)
    changed = True
    while changed:
        changed = False
        for fewer in _fewer(study, programme, amounts):
            if programme.value(fewer) <= most and programme.excess(fewer) <= noise:
                amounts, changed = fewer, True
                break
    return amounts


def as_close(value: float) -> float:
    """Return the deviation up to which a formula is as close as one with this."""
    return max(value * (1 + SAME), NEARLY_ZERO)


def _fewer(study: Study, programme: Programme, amounts: FloatArray) -> Iterator[FloatArray]:
    """Yield formulas of one line less, those first that change least, and dearer twins changed for cheaper ones."""
    used = [i for i in range(len(study.stocks)) if amounts[i] > 0]
    for i in sorted(used, key=lambda i: (programme.basis[i] * amounts[i], i)):
        without = amounts.copy()
        without[i] = 0.0
        makes = float(programme.basis @ without)
        if makes > 0:
            yield with_made(programme, without * (programme.batch_g / makes))
    prices = [math.inf if stock.price_per_g is None else stock.price_per_g for stock in study.stocks]
    for i, j in product(used, range(len(study.stocks))):
        if i == j or not _twins(study, programme, i, j):
            continue
        together = amounts[i] + amounts[j]
        cheaper = prices[j] < prices[i]
        if cheaper or (amounts[j] > 0 and ((prices[j], j) < (prices[i], i) or together > programme.maximum[i])):
            moved = amounts.copy()
            moved[i], moved[j] = 0.0, together
            yield with_made(programme, moved)
    yield from _less_diluted(study, programme, amounts)


def _less_diluted(study: Study, programme: Programme, amounts: FloatArray) -> Iterator[FloatArray]:
    """Yield formulas that pour a bottle in place of a more diluted one of its material, where that is weighed well."""
    keys = [stock.key for stock in study.stocks]
    standing = [j for j, stock in enumerate(study.stocks) if stock.recipe is None]
    for i, j in product(np.flatnonzero(amounts[: len(keys)]), standing):
        if keys[i].material != keys[j].material or keys[i].strength >= keys[j].strength:
            continue
        grams = amounts[j] + amounts[i] * keys[i].strength / keys[j].strength
        least = max(programme.minimum[j], FINE * study.stocks[j].step_g)
        if least <= grams <= programme.maximum[j]:
            moved = amounts.copy()
            moved[i], moved[j] = 0.0, grams
            yield with_made(programme, moved)


def _twins(study: Study, programme: Programme, i: int, j: int) -> bool:
    """Whether a gram of two stocks is the same for closeness, and for the limits too unless they are lots."""
    if programme.basis[i] != programme.basis[j] or (programme.content[:, i] != programme.content[:, j]).any():
        return False
    return study.stocks[i].key.material == study.stocks[j].key.material or all(
        row.amounts[i] == row.amounts[j] and row.used[i] == row.used[j]
        for row in programme.limits
        if row.key.kind not in OWN
    )
