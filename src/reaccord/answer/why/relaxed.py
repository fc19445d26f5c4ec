"""How far a limit of a conflict must give way before a formula is possible, all other limits as they are."""

from __future__ import annotations

import math
from collections.abc import Collection

import numpy as np

from reaccord.answer.why.dropped import ON_HAND, WEIGHABLE, Dropped
from reaccord.answer.why.weighed import can_be_weighed, weighed
from reaccord.contract import FloatArray, LimitRow, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.study import Study
from reaccord.domain.three_figures import three_figures
from reaccord.solvers.possible import least_of

SAFE = 1e-6
"""Relative; a row that must give way by less need not give way."""
LARGER = 1000.0
"""Times the batch that is asked for: a larger one is no help."""
NOISE = 1e-8
"""Relative; of what HiGHS finds: 7 g on hand make 7 g, not 6.99."""
NOTHING = 1e-9
"""Gram, or percent: less is none."""
ASIDE = 0.0, 1e-3, 1e-2
"""Relative; a batch that cannot be weighed is told so much larger or smaller."""
BEYOND = " or a little more", " or a little less"
"""Where nothing was found that can be weighed: it takes somewhat more, or less of what is possible up to somewhere."""
PER_GRAM = frozenset({"cost", "undeclared", "restricted"})
"""Kinds of rows that are stated as an excess over the limit, which is per gram of accord."""


def relaxed(study: Study, asked: Dropped, keys: Collection[LimitKey], seconds: float, *, alone: bool) -> str:
    """Say from where on the limits of these keys leave a formula possible; blank where that is not known in time.

    A least is searched for, with every other limit in force: what is said is enough by itself, for a formula that can
    be weighed. `alone` tells whether a formula is possible without these limits.
    """
    if WEIGHABLE in keys or ON_HAND in keys:
        return _batch(asked, more=WEIGHABLE in keys, seconds=seconds)
    for row in asked.programme.limits if alone else ():
        amounts = asked.least(row, keys, seconds) if row.key in keys else None
        if amounts is None:
            continue
        found = _reached(asked.programme, row, amounts)
        if found > row.most + SAFE * max(abs(row.most), abs(found), 1e-9):
            on_grid = weighed(asked, row.amounts, keys, amounts, asked.programme.batch_g)
            least = found if on_grid is None else max(found, _reached(asked.programme, row, on_grid))
            return _said(study, row, least) + (BEYOND[row.key.kind == "amount at least"] if on_grid is None else "")
    return ""


def _reached(programme: Programme, row: LimitRow, amounts: FloatArray) -> float:
    """Return what amounts (n,) come to in a limit; in one per gram of accord, per gram."""
    total = float(row.amounts @ amounts + row.used @ (amounts > 0))
    return total / float(programme.basis @ amounts) if row.key.kind in PER_GRAM else total


def _said(study: Study, row: LimitRow, least: float) -> str:
    """Write the least that a row can be as its limit is written, rounded to where it is possible."""
    kind, limits = row.key.kind, study.settings.limits
    if kind == "cost":
        return f"possible from {_up((limits.cost_per_kg or 0.0) + 1000 * least, 2):.2f}"
    if kind == "undeclared":
        return _share((limits.undeclared or 0.0) + least)
    if kind == "restricted":
        claim = next(claim for claim in study.claims() if claim.key == row.key)
        most = claim.most + least
        return f"possible from {_figures(most)}" if claim.unit == "ratio" else _share(most)
    if kind in {"lines", "dilutions"}:
        return f"possible from {math.ceil(least - SAFE)}"
    if kind == "amount at least":
        return f"possible up to {_figures(-least, up=False)} g"
    return "" if kind == "set aside" else f"possible from {_figures(least)} g"


def _share(most: float) -> str:
    """Write a share from which on it is possible; blank where no study can allow so much."""
    return f"possible from {_figures(100 * most)} %" if most <= 1 else ""


def _batch(asked: Dropped, more: bool, seconds: float) -> str:
    """Say how large a batch must be for what can be weighed, or may be for what is on hand."""
    programme = asked.programme
    none, larger = np.zeros(len(programme.basis)), (1.0, LARGER)
    amounts = least_of(programme, programme.basis, none, seconds, larger) if more else asked.largest_batch(seconds)
    made = 0.0 if amounts is None else float(programme.basis @ amounts)
    if amounts is None or made < SAFE * programme.batch_g:
        return ""
    sizes = [_figures(made * (1 + aside if more else 1 - aside), up=more) for aside in ASIDE]
    size = next((size for size in sizes if can_be_weighed(asked, amounts > 0, float(size))), "")
    way = "possible from a batch of" if more else "possible up to a batch of"
    return f"{way} {size or sizes[0]} g" + ("" if size else BEYOND[not more])


def _up(value: float, decimals: int) -> float:
    return float(math.ceil(value * 10**decimals * (1 - NOISE)) / 10**decimals)


def _figures(value: float, *, up: bool = True) -> str:
    """Write a number in three figures, rounded to the side on which it is still possible."""
    if value <= NOTHING:
        return "0"
    return f"{three_figures(value, up=up, slack=NOISE):f}"
