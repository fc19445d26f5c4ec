"""Any formula against a study: shares, closeness, cost and every limit.

Stands on the study alone and shares no code with the programme or the solvers, so that what it prints
is a second opinion on what they found.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from reaccord.answer.limits_held import LimitState, Pour, limit_states
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.domain.target import RowKind, TargetRow


class PouredLine(NamedTuple):
    """One line: gram poured, its part of the carrier-free mass, its cost (None: no price known)."""

    stock: Stock
    grams: float
    share: float
    cost: float | None


class Residual(NamedTuple):
    """One row: shares are fractions of the basis; `sources` are materials and their part of `achieved`."""

    row: TargetRow
    achieved: float
    residual: float
    scaled: float
    sources: tuple[tuple[str, float], ...]

    @property
    def kind(self) -> RowKind:
        """What kind of row it is."""
        return self.row.kind


@dataclass(frozen=True)
class Totals:
    """Gram by kind, and money; `cost` adds up the priced lines only, and is None where no line has a price.

    `accord_g` is the basis reached: what limits and `cost_per_kg` count per gram of. `cost_per_kg_concentrate` is per
    kg of what is poured without carrier, as a buyer counts.
    """

    accord_g: float

    named_g: float
    foreign_g: float
    undeclared_g: float
    carrier_g: float
    total_g: float
    cost: float | None
    cost_per_kg: float | None
    cost_per_kg_concentrate: float | None
    unpriced_lines: int


class Closeness(NamedTuple):
    """The deviation by the study's measure and the figures printed beside it."""

    value: float
    misplaced_share: float
    coverage: float
    largest: tuple[str, float]


@dataclass(frozen=True)
class Judgement:
    """Everything there is to say about a formula."""

    lines: tuple[PouredLine, ...]
    totals: Totals
    closeness: Closeness
    residuals: tuple[Residual, ...]
    limits: tuple[LimitState, ...]

    @property
    def broken(self) -> tuple[LimitState, ...]:
        """The limits that do not hold."""
        return tuple(state for state in self.limits if not state.held)


def judge(study: Study, amounts: Mapping[StockKey, float], *, slack: float = 1e-3) -> Judgement:
    """Judge a formula.

    Parameters
    ----------
    study
        The study; the formula may use stocks it set aside.
    amounts
        Gram poured by stock; zeros are left out.
    slack
        A limit counts as binding within this relative distance.

    Raises
    ------
    ValueError
        If the formula holds nothing of the basis, or a stock is not in the study.
    """
    pours = _pours(study, amounts)
    named = _named(study, pours)
    odorant = math.fsum(p.grams * p.stock.odorant for p in pours)
    basis = odorant if study.target.rest == "open" else named
    if basis <= 0:
        raise ValueError("the formula holds none of the target's constituents")
    held = _held(study, pours)
    residuals = tuple(_residual(row, pours, grams, basis) for row, grams in zip(study.target.rows, held, strict=True))
    active = math.fsum(p.grams * p.stock.active for p in pours)
    lines = tuple(
        PouredLine(
            p.stock,
            p.grams,
            p.grams * p.stock.active / active,
            None if p.stock.price_per_g is None else p.grams * p.stock.price_per_g,
        )
        for p in pours
    )
    costs = [line.cost for line in lines if line.cost is not None]
    cost = math.fsum(costs) if costs else None
    totals = Totals(
        accord_g=basis,
        named_g=named,
        foreign_g=max(0.0, odorant - named),
        undeclared_g=math.fsum(p.grams * p.stock.content.undeclared for p in pours),
        carrier_g=math.fsum(p.grams * p.stock.carrier_share for p in pours),
        total_g=math.fsum(p.grams for p in pours),
        cost=cost,
        cost_per_kg=None if cost is None else 1000 * cost / basis,
        cost_per_kg_concentrate=None if cost is None else 1000 * cost / active,
        unpriced_lines=len(lines) - len(costs),
    )
    return Judgement(lines, totals, _closeness(study, residuals), residuals, limit_states(study, pours, basis, slack))


def empty_vial(study: Study) -> float:
    """Return the deviation of pouring nothing: 0 in every row."""
    return measured(study, [row.factor * row.distance(0.0) for row in study.target.rows])


def _pours(study: Study, amounts: Mapping[StockKey, float]) -> tuple[Pour, ...]:
    known = {stock.key: stock for stock in study.stocks}
    known |= {aside.stock.key: aside.stock for aside in study.set_aside}
    unknown = [key for key, grams in amounts.items() if grams > 0 and key not in known]
    if unknown:
        raise ValueError(f"not a stock of this study: {unknown[0]}")
    return tuple(Pour(known[key], amounts[key]) for key in sorted(amounts) if amounts[key] > 0)


def _named(study: Study, pours: tuple[Pour, ...]) -> float:
    """Return the gram of what the target names."""
    times = Counter(name for row in study.target.rows if row.kind == "named" for name in row.members)
    return math.fsum(
        pour.grams * math.fsum(gram * times[name] for name, gram in pour.stock.content.typical.items() if name in times)
        for pour in pours
    )


def _held(study: Study, pours: tuple[Pour, ...]) -> list[dict[int, float]]:
    """Return for each row of the target what a gram of each pour that holds some does, by place and in its order.

    From the contents to the rows: a stock holds a few constituents, and the target has many rows.
    """
    rows_of: dict[str, list[int]] = {}
    for number, row in enumerate(study.target.rows):
        for name in row.members:
            rows_of.setdefault(name, []).append(number)
    undeclared = [number for number, row in enumerate(study.target.rows) if row.kind == "undeclared"]
    found: list[dict[int, float]] = [{} for _ in study.target.rows]
    for place, pour in enumerate(pours):
        parts: dict[int, list[float]] = {}
        for name, gram in pour.stock.content.typical.items():
            for number in rows_of.get(name, ()):
                parts.setdefault(number, []).append(gram)
        for number, grams in parts.items():
            found[number][place] = math.fsum(grams)
        for number in undeclared:
            found[number][place] = pour.stock.content.undeclared
    return found


def _residual(row: TargetRow, pours: tuple[Pour, ...], held: dict[int, float], basis: float) -> Residual:
    by_material: dict[str, float] = {}
    for place, share in held.items():
        stock, grams = pours[place]
        if grams * share > 0:
            material = stock.key.material
            by_material[material] = by_material.get(material, 0.0) + grams * share
    total = math.fsum(by_material.values())
    achieved = total / basis
    distance = row.distance(achieved)
    ranked = sorted(by_material.items(), key=lambda item: (-item[1], item[0]))
    sources = tuple((material, gram / total) for material, gram in ranked)
    return Residual(row, achieved, distance, row.factor * distance, sources)


def _closeness(study: Study, residuals: tuple[Residual, ...]) -> Closeness:
    value = measured(study, [residual.scaled for residual in residuals])
    counted = [r for r in residuals if r.kind != "undeclared"]
    whole = math.fsum(r.achieved for r in counted)
    misplaced = 0.5 * math.fsum(abs(r.row.distance(r.achieved / whole)) for r in counted)
    coverage = math.fsum(min(r.achieved / whole, r.row.high) for r in counted)
    largest = max(counted, key=lambda r: (abs(r.residual), r.row.label))
    return Closeness(value, misplaced, coverage, (largest.row.label, largest.residual))


def measured(study: Study, scaled: Sequence[float]) -> float:
    """Return the study's measure of scaled residuals."""
    measure = study.settings.fit.measure
    if measure == "squares":
        return math.fsum(z * z for z in scaled)
    if measure == "absolute":
        return math.fsum(abs(z) for z in scaled)
    return max(abs(z) for z in scaled)
