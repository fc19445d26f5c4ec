"""Contents whose composition rows vary: what one gram of a stock holds, as a sum over the rows drawn.

A row with `low` and `high` is triangular (low, share, high) and independent of the others.
With `delta_r` the distance of a drawn share from its mean, a content is a polynomial that has each `delta_r` at most
once in a product, blends inside blends being opened as ever:

    content = content_of_means + sum over sets S of rows of coefficient_S * product of delta_r, r in S

A set of one row is that row's own variation; sets of several come from a varied row inside a varied part of a blend.
Products of different sets are uncorrelated, and no coefficient of a constituent is negative.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from reaccord.domain.lines import CompositionLine
from reaccord.domain.settled import Part, Settled
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.findings import Place


class Substance(NamedTuple):
    """What a content counts: a constituent, the neat mass of a material, or what nothing names."""

    kind: str
    name: str


UNNAMED = Substance("undeclared", "")
RowSet = tuple[int, ...]
"""Numbers of varied rows, ascending; empty: the contents of mean shares."""
Expansion = dict[RowSet, dict[Substance, float]]
"""Gram of each substance per gram, for each set of rows."""


@dataclass(frozen=True)
class VariedRow:
    """One composition row that varies; shares are fractions of the neat material."""

    material: str
    part: str
    low: float
    share: float
    high: float

    @property
    def mean(self) -> float:
        """Mean of the triangular law."""
        return (self.low + self.share + self.high) / 3

    @property
    def deviation(self) -> float:
        """Standard deviation of the triangular law: `sqrt((a^2 + b^2 + c^2 - ab - ac - bc) / 18)`."""
        a, b, c = self.low, self.share, self.high
        return math.sqrt(max(0.0, a * a + b * b + c * c - a * b - a * c - b * c) / 18)


class Variation:
    """The varied rows of a study, sorted by material and part, and the contents they make.

    `one_ended` counts the rows with only one of `low` and `high`: they do not vary.
    """

    def __init__(self, study: Study) -> None:
        self._settled = study.settled
        self._analyses = {bottle.key: bottle.analysis for bottle in study.settled.bottles}
        self._stocks = {stock.key: stock for stock in study.stocks}
        self._stocks |= {item.stock.key: item.stock for item in study.set_aside}
        lines = {line.at.at("part"): line for line in study.tables.compositions}
        self.one_ended = sum((line.low is None) != (line.high is None) for line in lines.values())
        order = self._settled.order
        self._numbers: dict[Place, int] = {}
        self.rows: tuple[VariedRow, ...] = tuple(self._varied_rows(sorted(order), lines))
        self._opened: dict[str, Expansion] = {}
        for material in order:
            self._opened[material] = self._open(material)
        self._of: dict[StockKey, Expansion] = {}

    def stock(self, key: StockKey) -> Mapping[RowSet, Mapping[Substance, float]]:
        """Return what one gram of a stock of the study holds."""
        if key not in self._of:
            stock = self._stocks[key]
            if stock.recipe is None:
                self._of[key] = self._bottle(stock)
            else:
                share, found = stock.recipe.source_share, Expansion()
                _add(found, self._bottle(self._stocks[stock.recipe.source]), share)
                _add(found, self._bottle(self._stocks[stock.recipe.carrier]), 1 - share)
                self._of[key] = found
        return self._of[key]

    def _varied_rows(self, materials: list[str], lines: Mapping[Place, CompositionLine]) -> list[VariedRow]:
        rows: list[VariedRow] = []
        for material in materials:
            for part in self._settled.parts.get(material, ()):
                line = lines.get(part.place)
                if line is None or line.low is None or line.high is None or part.kind == "undeclared":
                    continue
                row = VariedRow(material, part.name, part.low, min(max(part.share, part.low), part.high), part.high)
                if row.high > row.low:
                    self._numbers[part.place] = len(rows)
                    rows.append(row)
        return rows

    def _open(self, material: str) -> Expansion:
        parts = self._settled.parts.get(material, ())
        rest = max(0.0, 1.0 - sum(part.share for part in parts))
        found: Expansion = {
            (): {Substance("material", self._settled.analysed.get(material, material)): 1.0, UNNAMED: rest}
        }
        for part in parts:
            inside, number = self._part(part), self._numbers.get(part.place)
            if number is None:
                _add(found, inside, part.share)
                continue
            mean = self.rows[number].mean
            _add(found, inside, mean)
            _add(found, {_with(rows, number): held for rows, held in inside.items()}, 1.0)
            # the difference goes to what nothing names
            _add(found, {(): {UNNAMED: 1.0}}, part.share - mean)
            _add(found, {(number,): {UNNAMED: 1.0}}, -1.0)
        return found

    def _part(self, part: Part) -> Expansion:
        if part.kind == "undeclared":
            return {(): {UNNAMED: 1.0}}
        if part.kind == "constituent":
            return {(): {Substance("constituent", part.name): 1.0}}
        return self._diluted(self._opened[self._analysis(part.name)], part.strength, part.carrier)

    def _bottle(self, stock: Stock) -> Expansion:
        key, analysis = stock.key, self._analyses[stock.key]
        if analysis:
            return self._diluted(self._opened[analysis], key.strength, key.carrier)
        held = {Substance("constituent", name): gram for name, gram in stock.content.typical.items()}
        held |= {Substance("material", name): gram for name, gram in stock.content.materials.items()}
        return {(): held | {UNNAMED: stock.content.undeclared}}

    def _analysis(self, material: str) -> str:
        """Return whose analysis speaks for a material inside a blend."""
        return self._settled.speaks_for.get(material, material)

    def _diluted(self, neat: Expansion, strength: float, carrier: str) -> Expansion:
        if strength >= 1:
            return neat
        found: Expansion = {}
        _add(found, neat, strength)
        _add(found, _carrier(carrier, self._settled, self._opened), 1 - strength)
        return found


def _carrier(name: str, settled: Settled, opened: Mapping[str, Expansion]) -> Expansion:
    if name in settled.carrier_materials:
        return opened[settled.speaks_for.get(name, name)]
    return {(): {Substance("constituent", name) if name else UNNAMED: 1.0}}


def _with(rows: RowSet, number: int) -> RowSet:
    return tuple(sorted((*rows, number)))


def _add(total: Expansion, more: Expansion, times: float) -> None:
    for rows, held in more.items():
        here = total.setdefault(rows, {})
        for substance, gram in held.items():
            here[substance] = here.get(substance, 0.0) + times * gram
