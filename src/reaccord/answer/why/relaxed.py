"""How far a limit of a conflict must give way before a formula is possible, all other limits as they are."""

from __future__ import annotations

import math
from collections.abc import Collection

import numpy as np

from reaccord.answer.why.dropped import ON_HAND, WEIGHABLE, Dropped
from reaccord.contract import LimitRow
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


def relaxed(study: Study, asked: Dropped, keys: Collection[LimitKey], seconds: float, *, alone: bool) -> str:
    """Say from where on the limits of these keys leave a formula possible; blank where that is not known in time.

    A least is searched for, with every other limit in force: what is said is enough by itself. `alone` tells whether
    a formula is possible without these limits.
    """
    if WEIGHABLE in keys or ON_HAND in keys:
        return _batch(asked, more=WEIGHABLE in keys, seconds=seconds)
    for row in asked.programme.limits if alone else ():
        found = asked.least(row, keys, seconds) if row.key in keys else None
        if found is not None and found > row.most + SAFE * max(abs(row.most), abs(found), 1e-9):
            return _said(study, row, found)
    return ""


def _said(study: Study, row: LimitRow, found: float) -> str:
    """Write the least that a row can be as its limit is written, rounded to where it is possible.

    What counts per gram of accord is stated as an excess over the limit, in the batch.
    """
    kind, over, limits = row.key.kind, (found - row.most) / study.settings.batch.accord_g, study.settings.limits
    if kind == "cost":
        return f"possible from {_up((limits.cost_per_kg or 0.0) + 1000 * over, 2):.2f}"
    if kind == "undeclared":
        return f"possible from {_figures(100 * ((limits.undeclared or 0.0) + over))} %"
    if kind == "restricted":
        claim = next(claim for claim in study.claims() if claim.key == row.key)
        ratio = claim.unit == "ratio"
        return f"possible from {_figures((claim.most + over) * (1 if ratio else 100))}{'' if ratio else ' %'}"
    if kind in {"lines", "dilutions"}:
        return f"possible from {math.ceil(found - SAFE)}"
    if kind == "amount at least":
        return f"possible up to {_figures(-found, up=False)} g"
    return "" if kind == "set aside" else f"possible from {_figures(found)} g"


def _batch(asked: Dropped, more: bool, seconds: float) -> str:
    """Say how large a batch must be for what can be weighed, or may be for what is on hand."""
    programme = asked.programme
    none, larger = np.zeros(len(programme.basis)), (1.0, LARGER)
    grams = least_of(programme, programme.basis, none, seconds, larger) if more else asked.largest_batch(seconds)
    if grams is None or grams < SAFE * programme.batch_g:
        return ""
    if more:
        return f"possible from a batch of {_figures(grams)} g"
    return f"possible up to a batch of {_figures(grams, up=False)} g"


def _up(value: float, decimals: int) -> float:
    return float(math.ceil(value * 10**decimals * (1 - NOISE)) / 10**decimals)


def _figures(value: float, *, up: bool = True) -> str:
    """Write a number in three figures, rounded to the side on which it is still possible."""
    if value <= NOTHING:
        return "0"
    return f"{three_figures(value, up=up, slack=NOISE):f}"
