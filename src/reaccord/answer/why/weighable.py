"""Rows that are off because less of a bottle is wanted than can be weighed, and what frees them: solved again."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from reaccord.answer.judge import Judgement, Residual
from reaccord.answer.why.again import Again
from reaccord.answer.why.offer import beside, weaker
from reaccord.answer.why.reason import Reason, nearer, points, twin
from reaccord.answer.why.shelf import best, held
from reaccord.domain.stock import Stock
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput
from reaccord.programme import restate
from reaccord.study.changed import with_keys

NEAR = 3.0
"""Times the least that can be weighed: where so much of a bottle would bring all of a row, the least is no trouble."""
PARTS = (0.1, 0.01, 0.001)
"""Strengths that are tried, of the strength at hand."""
LARGER = (2.0, 5.0, 10.0, 20.0, 50.0)
"""Times the batch that are tried."""


def below_balance(again: Again, before: Judgement, rows: Sequence[Residual]) -> dict[str, Reason]:
    """Return a reason by row label where the row is nearer once less of its source can be weighed.

    `before` judges the closest formula before rounding, `rows` are its residuals that are asked about.
    """
    asked: dict[str, list[Residual]] = {}
    for residual in rows:
        source = _source(again.study, before, residual)
        if source is not None:
            asked.setdefault(source.key.material, []).append(residual)
    found: dict[str, Reason] = {}
    for material, residuals in asked.items():
        found |= _freed(again, before, material, residuals)
    return found


def _source(study: Study, before: Judgement, residual: Residual) -> Stock | None:
    """Return the source of a row of which the least is near what would be poured."""
    members, poured = residual.row.members, {line.stock.key: line.grams for line in before.lines}
    if residual.kind == "undeclared":
        return None
    if residual.residual > 0:
        lines = [line for line in before.lines if line.stock.key.material == residual.sources[0][0]]
        return next((line.stock for line in lines if 0 < line.grams <= line.stock.minimum_g * (1 + 1e-9)), None)
    holding = [stock for stock in study.stocks if held(members, stock) > 0]
    if not holding:
        return None
    material = best(members, holding).key.material
    holding = [stock for stock in holding if stock.key.material == material]
    if any(stock.key in poured for stock in holding):
        return None
    stock = min(holding, key=lambda stock: (stock.minimum_g * held(members, stock), stock.key))
    grams = residual.row.share * before.totals.accord_g / held(members, stock)
    return stock if grams < NEAR * stock.minimum_g else None


def _freed(again: Again, before: Judgement, material: str, rows: Sequence[Residual]) -> dict[str, Reason]:
    """Solve without the least that can be weighed of a material; of the rows that are nearer say what frees them."""
    study, programme = again.study, again.programme
    mine = np.array([stock.key.material == material for stock in study.stocks])
    mine = np.append(mine, np.zeros(len(programme.columns) - len(mine), dtype=bool))
    free = again.closest(study, replace(programme, minimum=np.where(mine, 0.0, programme.minimum)))
    if free is None:
        return {}
    off = [residual for residual in rows if nearer(residual, twin(free, residual))]
    lines = [line for line in free.lines if line.stock.key.material == material and line.stock.minimum_g > line.grams]
    if not off or not lines:
        return {}
    line = min(lines, key=lambda line: (line.stock.minimum_g, line.stock.key))
    how, then = _remedy(again, line.stock, line.grams, off)
    of = f"less of {line.stock.label} is wanted than can be weighed ({line.stock.minimum_g:.4g} g)"
    found = {}
    for residual in off:
        gain = nearer(residual, twin(then or free, residual))
        if gain:
            said = f"{of}: {how if then else 'if less could be,'} {points(gain)}"
            found[residual.row.label] = Reason(residual.row.label, "below_balance", said, gain)
    return found


def _remedy(again: Again, stock: Stock, grams: float, off: Sequence[Residual]) -> tuple[str, Judgement | None]:
    """Return the dilution, or the batch, that brings these rows nearer, solved with it.

    A dilution that may be made already frees nothing.
    """
    for way in (_diluted, _larger):
        how, then = way(again, stock, grams)
        if then is not None and any(nearer(one, twin(then, one)) for one in off):
            return how, then
    return "", None


def _diluted(again: Again, stock: Stock, grams: float) -> tuple[str, Judgement | None]:
    study = again.study
    carrier = stock.key.carrier or _carrier(study)
    part = next((part for part in PARTS if grams / part >= stock.minimum_g), None)
    if part is None:
        return "", None
    dilution = weaker(stock, part, carrier or _any_carrier(study))
    strength, material = dilution.key.strength, stock.key.material
    if any(s.key.material == material and math.isclose(s.key.strength, strength) for s in study.stocks):
        return "", None
    how = f"diluted to {strength * 100:.4g} %" + ("" if carrier else " (no carrier on the shelf)")
    return how, again.closest(*beside(study, again.programme, [dilution]))


def _larger(again: Again, stock: Stock, grams: float) -> tuple[str, Judgement | None]:
    study = again.study
    times = next((times for times in LARGER if times * grams >= stock.minimum_g), None)
    if times is None:
        return "", None
    batch = times * study.settings.batch.accord_g
    try:
        larger = with_keys(study, "batch", accord_g=batch)
    except InvalidInput:
        return "", None
    return f"in a batch of {batch:.4g} g", again.closest(larger, restate(again.programme, study, larger))


def _carrier(study: Study) -> str:
    """Return the carrier that stands on the shelf; blank if none does."""
    bottled = {name for stock in study.stocks if stock.active <= 0 for name in stock.content.typical}
    made = study.settled.dilution_carrier
    return made if made in bottled else min(bottled & study.carriers, default="")


def _any_carrier(study: Study) -> str:
    return min(study.carriers, default="")
