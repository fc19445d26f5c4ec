"""A study stated as a programme: labelled arrays, one short function per limit.

A limit is stated three times, each apart from the others: here, in `answer/limits_held.py` and in
`certificate/restate.py`. DEVELOPERS.md has the recipe.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from reaccord.contract import FloatArray, LimitRow, Made, Programme
from reaccord.domain.limit_key import LimitKey, LimitKind
from reaccord.domain.limits import Member
from reaccord.domain.stock import Recipe, Stock, StockKey
from reaccord.domain.study import Study


def state(study: Study) -> Programme:
    """State a study as a programme.

    Columns are the study's stocks in their order, then one helper column (grams made) for each dilution
    whose carrier could run out.
    """
    columns = Columns(study)
    return _with_rows(_of_stocks(columns), columns, _content(study, columns.n))


def restate(before: Programme, was: Study, now: Study) -> Programme:
    """State a study that differs a little from the one before: `state(now)`, where `before` is `state(was)`.

    What is the same in both is taken over, stocks and bottles being the same where they are the same objects.
    """
    columns = Columns(now)
    kept = was.stocks is now.stocks and was.set_aside is now.set_aside
    same_rows = [row.members for row in was.target.rows] == [row.members for row in now.target.rows]
    content = before.content if kept and same_rows else _content(now, columns.n, (before, was) if same_rows else None)
    limits: list[LimitRow] = []
    for limit, (kinds, reads) in LIMITS.items():
        if kept and reads(was) == reads(now):
            limits += [row for row in before.limits if row.key.kind in kinds]
        else:
            limits += limit(columns)
    stated = replace(before, limits=tuple(limits)) if kept else _of_stocks(columns, tuple(limits))
    return _with_rows(stated, columns, content)


class Columns:
    """What a gram of each stock of a study brings; vectors of shape (n,), 0 for helper columns."""

    def __init__(self, study: Study) -> None:
        self.study = study
        self._high: dict[str, FloatArray] = {}

    @cached_property
    def bottles(self) -> dict[StockKey, Stock]:
        """Every stock by its key, those set aside too."""
        study = self.study
        return {stock.key: stock for stock in (*(item.stock for item in study.set_aside), *study.stocks)}

    @cached_property
    def making(self) -> dict[int, Recipe]:
        """The dilutions whose carrier's bottle could run out, by place among the stocks: each has a helper column."""
        return {
            i: stock.recipe
            for i, stock in enumerate(self.study.stocks)
            if stock.recipe is not None and self.bottles[stock.recipe.carrier].maximum_g < math.inf
        }

    @cached_property
    def n(self) -> int:
        """How many columns there are."""
        return len(self.study.stocks) + len(self.making)

    def over(self, value: Callable[[Stock], float]) -> FloatArray:
        """Return a value of each stock."""
        found = np.zeros(self.n)
        found[: len(self.study.stocks)] = [value(stock) for stock in self.study.stocks]
        return found

    @cached_property
    def active(self) -> FloatArray:
        """Gram without carrier."""
        return self.over(lambda stock: stock.active)

    def held(self, member: Member) -> FloatArray:
        """Gram of what a rule restricts, contents at their high end (`Member.held`)."""
        if member.material:
            return self.over(lambda stock: stock.content.materials.get(member.material, 0.0))
        total = np.zeros(self.n)
        for name in sorted(member.constituents):
            if name not in self._high:
                self._high[name] = self.over(lambda stock, name=name: stock.content.high.get(name, 0.0))  # type: ignore[misc]
            total += self._high[name]
        return total


def _of_stocks(columns: Columns, limits: tuple[LimitRow, ...] | None = None) -> Programme:
    """Return a programme without rows of the target."""
    study, making, none = columns.study, columns.making, np.zeros(0)
    stocks, empty = study.stocks, np.zeros(columns.n)
    if limits is None:
        limits = tuple(row for limit in LIMITS for row in limit(columns))
    maximum = columns.over(lambda stock: stock.maximum_g)
    maximum[len(stocks) :] = math.inf
    return Programme(
        columns=(*(stock.label for stock in stocks), *(f"made: {stocks[i].label}" for i in making)),
        rows=(),
        content=np.zeros((0, columns.n)),
        low=none,
        high=none,
        factor=none,
        basis=empty,
        batch_g=study.settings.batch.accord_g,
        minimum=columns.over(lambda stock: stock.minimum_g),
        maximum=maximum,
        limits=limits,
        strengths=_strengths(stocks),
        step=columns.over(lambda stock: stock.step_g),
        made=tuple(Made(i, column, recipe.least_g) for column, (i, recipe) in enumerate(making.items(), len(stocks))),
    )


def _with_rows(stated: Programme, columns: Columns, content: FloatArray) -> Programme:
    """Return the programme with the rows of the target, its batch and its measure."""
    study = columns.study
    rows = study.target.rows
    return replace(
        stated,
        rows=tuple(row.label for row in rows),
        content=content,
        low=np.array([row.low for row in rows]),
        high=np.array([row.high for row in rows]),
        factor=np.array([row.factor for row in rows]),
        basis=_basis(columns, content),
        batch_g=study.settings.batch.accord_g,
        measure=study.settings.fit.measure,
    )


def _content(study: Study, n: int, known: tuple[Programme, Study] | None = None) -> FloatArray:
    """Return gram of each row's constituents per gram of stock, shape (K, n); `known` has the same rows."""
    rows_of: dict[str, list[int]] = {}
    for k, row in enumerate(study.target.rows):
        for name in row.members:
            rows_of.setdefault(name, []).append(k)
    undeclared = [k for k, row in enumerate(study.target.rows) if row.kind == "undeclared"]
    before = {id(stock.content): i for i, stock in enumerate(known[1].stocks)} if known else {}
    found = np.zeros((len(study.target.rows), n))
    for i, stock in enumerate(study.stocks):
        if known and id(stock.content) in before:
            found[:, i] = known[0].content[:, before[id(stock.content)]]
            continue
        for name, gram in sorted(stock.content.typical.items()):  # sums in one order, whatever that of the tables
            for k in rows_of.get(name, ()):
                found[k, i] += gram
        found[undeclared, i] = stock.content.undeclared
    return found


def _basis(columns: Columns, content: FloatArray) -> FloatArray:
    """Return gram of what the batch is stated in per gram of stock; (n,)."""
    if columns.study.target.rest == "open":
        return columns.over(lambda stock: stock.odorant)
    named = [k for k, row in enumerate(columns.study.target.rows) if row.kind == "named"]
    basis: FloatArray = np.zeros(columns.n)
    for k in named:
        basis += content[k]
    return basis


def _row(key: LimitKey, label: str, sentence: str, amounts: FloatArray, most: float) -> LimitRow:
    return LimitRow(key, label, sentence, amounts, np.zeros(len(amounts)), most)


def _strengths(stocks: tuple[Stock, ...]) -> tuple[tuple[tuple[int, ...], ...], ...]:
    by_material: dict[str, dict[float, list[int]]] = {}
    for i, stock in enumerate(stocks):
        by_material.setdefault(stock.key.material, {}).setdefault(stock.key.strength, []).append(i)
    return tuple(
        tuple(tuple(columns) for _, columns in sorted(found.items()))
        for _, found in sorted(by_material.items())
        if len(found) > 1
    )


def cost(columns: Columns) -> Iterator[LimitRow]:
    """sum price_i x_i <= cost_per_kg / 1000 * sum active_i x_i."""
    most = columns.study.settings.limits.cost_per_kg
    if most is not None:
        amounts = columns.over(lambda s: s.price_per_g or 0.0) - most / 1000 * columns.active
        yield _row(LimitKey("cost"), "cost", f"cost at most {most:.2f} per kg", amounts, 0.0)


def lines(columns: Columns) -> Iterator[LimitRow]:
    """At most so many stocks used."""
    most = columns.study.settings.limits.lines
    if most is not None:
        used = columns.over(lambda _: 1.0)
        sentence = f"at most {most} line{'s' * (most != 1)}"
        yield LimitRow(LimitKey("lines"), "lines", sentence, np.zeros(columns.n), used, most)


def carrier(columns: Columns) -> Iterator[LimitRow]:
    """sum (1 - active_i) x_i <= cap."""
    most = columns.study.settings.batch.carrier_max_g
    if most is not None:
        amounts = columns.over(lambda s: s.carrier_share)
        yield _row(LimitKey("carrier"), "carrier", f"carrier at most {most:g} g", amounts, most)


def undeclared(columns: Columns) -> Iterator[LimitRow]:
    """sum undeclared_i x_i <= share * sum active_i x_i."""
    most = columns.study.settings.limits.undeclared
    if most is not None:
        amounts = columns.over(lambda s: s.content.undeclared) - most * columns.active
        sentence = f"undeclared mass at most {most * 100:g} %"
        yield _row(LimitKey("undeclared"), "undeclared", sentence, amounts, 0.0)


def restricted(columns: Columns) -> Iterator[LimitRow]:
    """dosage * sum_terms c q_member <= most, times the carrier-free mass; contents at their high end."""
    dosage = columns.study.settings.limits.dosage or 0.0
    for key, label, terms, most, unit in columns.study.claims():
        held = np.zeros(columns.n)
        for coefficient, member in terms:
            held += coefficient * columns.held(member)
        amounts = dosage * held - most * columns.active
        what = f"{most:g} of the ratio" if unit == "ratio" else f"{most * 100:.4g} % in the product"
        yield _row(key, label, f"{label} at most {what}", amounts, 0.0)


def named_amounts(columns: Columns) -> Iterator[LimitRow]:
    """least <= sum strength_i x_i <= most over the stocks of a material."""
    for amount in columns.study.amounts:
        name = amount.material
        neat = columns.over(lambda s, name=name: s.key.strength if s.key.material == name else 0.0)  # type: ignore[misc]
        exactly = f"{amount.material} exactly {amount.least_g:g} g" if amount.least_g == amount.most_g else ""
        if amount.least_g > 0:
            sentence = exactly or f"{amount.material} at least {amount.least_g:g} g"
            key = LimitKey("amount at least", (amount.material,))
            yield _row(key, f"{amount.material} at least", sentence, -neat, -amount.least_g)
        if amount.most_g < math.inf:
            sentence = exactly or f"{amount.material} at most {amount.most_g:g} g"
            key = LimitKey("amount at most", (amount.material,))
            yield _row(key, f"{amount.material} at most", sentence, neat, amount.most_g)


def carrier_on_hand(columns: Columns) -> Iterator[LimitRow]:
    """Grams made M_i >= x_i and M_i >= least_i z_i; sum (1 - share_i) M_i + x_carrier <= on hand."""
    stocks, n = columns.study.stocks, columns.n
    taken: dict[StockKey, FloatArray] = {}
    for column, (i, recipe) in enumerate(columns.making.items(), start=len(stocks)):
        key, label = LimitKey("made", stocks[i].key.subject), f"grams made of {stocks[i].label}"
        poured, least, used = np.zeros(n), np.zeros(n), np.zeros(n)
        poured[i], poured[column] = 1.0, -1.0
        least[column], used[i] = -1.0, recipe.least_g
        yield _row(key, label, label, poured, 0.0)
        yield LimitRow(key, label, label, least, used, 0.0)
        row = taken.setdefault(recipe.carrier, np.zeros(n))
        row[column] = 1 - recipe.source_share
    for carrier_key, row in taken.items():
        bottle = columns.bottles[carrier_key]
        row[: len(stocks)] += [float(stock.key == carrier_key) for stock in stocks]
        sentence = f"{bottle.label}: {bottle.maximum_g:g} g on hand"
        key = LimitKey("on hand", carrier_key.subject)
        yield _row(key, f"{bottle.label}: on hand", sentence, row, bottle.maximum_g)


class StatedFrom(NamedTuple):
    """The kinds of rows that a limit gives, and what of a study they depend on besides its stocks."""

    kinds: tuple[LimitKind, ...]
    reads: Callable[[Study], object]


LIMITS: dict[Callable[[Columns], Iterator[LimitRow]], StatedFrom] = {
    cost: StatedFrom(("cost",), lambda study: study.settings.limits.cost_per_kg),
    lines: StatedFrom(("lines",), lambda study: study.settings.limits.lines),
    carrier: StatedFrom(("carrier",), lambda study: study.settings.batch.carrier_max_g),
    undeclared: StatedFrom(("undeclared",), lambda study: study.settings.limits.undeclared),
    restricted: StatedFrom(("restricted",), lambda study: (study.settings.limits.dosage, study.rules)),
    named_amounts: StatedFrom(("amount at least", "amount at most"), lambda study: study.amounts),
    carrier_on_hand: StatedFrom(("made", "on hand"), lambda study: None),
}
"""Every limit that is a row; bottles' own masses and one strength per material are in the arrays."""
