"""A study stated as a programme: labelled arrays, one short function per limit.

A limit is stated three times, each apart from the others: here, in `answer/limits_held.py` and in
`certificate/restate.py`. DEVELOPERS.md has the recipe.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np

from reaccord.contract import FloatArray, LimitRow, Made, Programme
from reaccord.domain.limit_key import LimitKey, LimitKind
from reaccord.domain.limits import Member
from reaccord.domain.stock import Recipe, Stock, StockKey
from reaccord.domain.study import Study

ROOM = 1.01
"""Rounding may make a little more than the batch."""


def state(study: Study) -> Programme:
    """State a study as a programme.

    Columns are the study's stocks in their order, then one helper column (grams made) for each dilution
    whose bottle or carrier could run out.
    """
    ground = ground_of(study)
    return _stated(study, ground, tuple(row for limit in LIMITS for row in limit(study, ground)))


def restate(before: Programme, was: Study, now: Study) -> Programme:
    """State a study that differs a little from the one before: `state(now)`, where `before` is `state(was)`.

    What is the same in both is taken over; stocks are the same where they are the same objects (`study.changed`).
    """
    same_stocks = was.stocks is now.stocks and was.set_aside is now.set_aside
    same_rows = [(row.kind, row.members) for row in was.target.rows] == [(x.kind, x.members) for x in now.target.rows]
    same_ground = same_stocks and same_rows and _ground_reads(was) == _ground_reads(now)
    if same_ground:
        recipes = ((made.stock, now.stocks[made.stock].recipe) for made in before.made)
        ground = Ground(before.content, before.basis, {i: recipe for i, recipe in recipes if recipe is not None})
    else:
        ground = ground_of(now, (before, was) if same_rows else None)
    limits: list[LimitRow] = []
    for limit, (kinds, reads) in LIMITS.items():
        if same_ground and reads(was) == reads(now):
            limits += [row for row in before.limits if row.key.kind in kinds]
        else:
            limits += limit(now, ground)
    if same_ground:
        return replace(before, limits=tuple(limits), **_settings_and_rows(now))
    return _stated(now, ground, tuple(limits))


def _ground_reads(study: Study) -> object:
    """Return what the ground depends on besides stocks and the rows' members."""
    return study.target.rest, study.settings.dilutions and study.settings.batch.accord_g


def _stated(study: Study, ground: Ground, limits: tuple[LimitRow, ...]) -> Programme:
    stocks, making = study.stocks, ground.making
    most = [min(s.maximum_g, s.recipe.needed_g) if s.recipe else s.maximum_g for s in stocks]
    return Programme(
        columns=(*(stock.label for stock in stocks), *(f"made: {stocks[i].label}" for i in making)),
        content=ground.content,
        basis=ground.basis,
        minimum=np.array([*(stock.minimum_g for stock in stocks), *(0.0 for _ in making)]),
        maximum=np.array([*most, *(math.inf for _ in making)]),
        limits=limits,
        strengths=_strengths(stocks),
        step=np.array([*(stock.step_g for stock in stocks), *(0.0 for _ in making)]),
        made=tuple(Made(i, column, recipe.least_g) for column, (i, recipe) in enumerate(making.items(), len(stocks))),
        **_settings_and_rows(study),
    )


def _settings_and_rows(study: Study) -> dict[str, Any]:
    """Return the parts of a programme that cost nothing to state."""
    rows = study.target.rows
    return {
        "rows": tuple(row.label for row in rows),
        "low": np.array([row.low for row in rows]),
        "high": np.array([row.high for row in rows]),
        "factor": np.array([row.factor for row in rows]),
        "batch_g": study.settings.batch.accord_g,
        "measure": study.settings.fit.measure,
    }


@dataclass(frozen=True)
class Ground:
    """What every limit stands on.

    `content` (K, n): gram of each row's constituents per gram of each column; `basis` (n,): gram of what counts as
    accord. `making`: the dilutions that have a helper column (grams made), by place among the stocks.
    """

    content: FloatArray
    basis: FloatArray
    making: Mapping[int, Recipe]
    _high: dict[str, FloatArray] = field(default_factory=dict)

    def over(self, study: Study, value: Callable[[Stock], float]) -> FloatArray:
        """Return a row of coefficients (n,), one a stock, 0 for helper columns."""
        row = np.zeros(len(self.basis))
        row[: len(study.stocks)] = [value(stock) for stock in study.stocks]
        return row

    def held(self, study: Study, member: Member) -> FloatArray:
        """Return what a rule restricts (n,), gram per gram, contents at their high end (`Member.held`)."""
        if member.material:
            return self.over(study, lambda s: s.content.materials.get(member.material, 0.0))
        total = np.zeros(len(self.basis))
        for name in sorted(member.constituents):
            if name not in self._high:
                self._high[name] = self.over(study, lambda s, name=name: s.content.high.get(name, 0.0))  # type: ignore[misc]
            total += self._high[name]
        return total


def ground_of(study: Study, known: tuple[Programme, Study] | None = None) -> Ground:
    """Return contents, basis and helper columns of a study; `known` is one with the same rows, and its programme."""
    content = _content(study, known)
    basis = _basis(study, content)
    making = _making(study, basis)
    none = np.zeros((len(content), len(making)))
    return Ground(np.hstack([content, none]), np.append(basis, np.zeros(len(making))), making)


def _content(study: Study, known: tuple[Programme, Study] | None) -> FloatArray:
    """Return gram of each row's constituents per gram of stock; (K, stocks)."""
    rows_of: dict[str, list[int]] = {}
    for k, row in enumerate(study.target.rows):
        for name in row.members:
            rows_of.setdefault(name, []).append(k)
    undeclared = [k for k, row in enumerate(study.target.rows) if row.kind == "undeclared"]
    before = {id(stock.content): i for i, stock in enumerate(known[1].stocks)} if known else {}
    found = np.zeros((len(study.target.rows), len(study.stocks)))
    for i, stock in enumerate(study.stocks):
        if known and id(stock.content) in before:
            found[:, i] = known[0].content[:, before[id(stock.content)]]
            continue
        for name, gram in sorted(stock.content.typical.items()):  # sums in one order, whatever that of the tables
            for k in rows_of.get(name, ()):
                found[k, i] += gram
        found[undeclared, i] = stock.content.undeclared
    return found


def _basis(study: Study, content: FloatArray) -> FloatArray:
    """Return gram of what the batch is stated in per gram of stock; (stocks,)."""
    if study.target.rest == "open":
        return np.array([stock.odorant for stock in study.stocks])
    named = [k for k, row in enumerate(study.target.rows) if row.kind == "named"]
    basis: FloatArray = np.zeros(content.shape[1])
    for k in named:
        basis += content[k]
    return basis


def _row(key: LimitKey, label: str, sentence: str, amounts: FloatArray, most: float) -> LimitRow:
    return LimitRow(key, label, sentence, amounts, np.zeros(len(amounts)), most)


def _strengths(stocks: tuple[Stock, ...]) -> tuple[tuple[tuple[int, ...], ...], ...]:
    """Return, of each material that can be diluted, its bottles at the strength of the source and each dilution.

    One of them is poured: what needs both could be weighed from the bottle. Bottles of other strengths are free.
    """
    sources = {(s.key.material, s.recipe.source.strength) for s in stocks if s.recipe is not None}
    found: dict[str, dict[float, list[int]]] = {}
    for i, stock in enumerate(stocks):
        if stock.recipe is not None or (stock.key.material, stock.key.strength) in sources:
            found.setdefault(stock.key.material, {}).setdefault(stock.key.strength, []).append(i)
    return tuple(
        tuple(tuple(columns) for _, columns in sorted(strengths.items()))
        for _, strengths in sorted(found.items())
        if len(strengths) > 1
    )


def cost(study: Study, ground: Ground) -> Iterator[LimitRow]:
    """sum price_i x_i <= cost_per_kg / 1000 * sum basis_i x_i."""
    most = study.settings.limits.cost_per_kg
    if most is not None:
        amounts = ground.over(study, lambda s: s.price_per_g or 0.0) - most / 1000 * ground.basis
        yield _row(LimitKey("cost"), "cost", f"cost at most {most:.2f} per kg of accord", amounts, 0.0)


def lines(study: Study, ground: Ground) -> Iterator[LimitRow]:
    """At most so many stocks used."""
    most = study.settings.limits.lines
    if most is not None:
        used = ground.over(study, lambda _: 1.0)
        sentence = f"at most {most} line{'s' * (most != 1)}"
        yield LimitRow(LimitKey("lines"), "lines", sentence, np.zeros(len(used)), used, most)


def dilutions(study: Study, ground: Ground) -> Iterator[LimitRow]:
    """At most so many dilutions made."""
    most = study.settings.dilutions.most if study.settings.dilutions else None
    if most is not None:
        used = ground.over(study, lambda s: float(s.recipe is not None))
        sentence = f"at most {most} dilution{'s' * (most != 1)} made"
        yield LimitRow(LimitKey("dilutions"), "dilutions made", sentence, np.zeros(len(used)), used, most)


def carrier(study: Study, ground: Ground) -> Iterator[LimitRow]:
    """sum (1 - active_i) x_i <= cap."""
    most = study.settings.batch.carrier_max_g
    if most is not None:
        amounts = ground.over(study, lambda s: s.carrier_share)
        yield _row(LimitKey("carrier"), "carrier", f"carrier at most {most:g} g", amounts, most)


def undeclared(study: Study, ground: Ground) -> Iterator[LimitRow]:
    """sum undeclared_i x_i <= share * sum basis_i x_i."""
    most = study.settings.limits.undeclared
    if most is not None:
        amounts = ground.over(study, lambda s: s.content.undeclared) - most * ground.basis
        sentence = f"undeclared mass at most {most * 100:g} % of the accord"
        yield _row(LimitKey("undeclared"), "undeclared", sentence, amounts, 0.0)


def restricted(study: Study, ground: Ground) -> Iterator[LimitRow]:
    """dosage * sum_terms c q_member <= most * sum basis_i x_i; contents at their high end."""
    dosage = study.settings.limits.dosage or 0.0
    for key, label, terms, most, unit in study.claims():
        held = np.zeros(len(ground.basis))
        for coefficient, member in terms:
            held += coefficient * ground.held(study, member)
        what = f"{most:g} of the ratio" if unit == "ratio" else f"{most * 100:.4g} % in the product"
        yield _row(key, label, f"{label} at most {what}", dosage * held - most * ground.basis, 0.0)


def named_amounts(study: Study, ground: Ground) -> Iterator[LimitRow]:
    """least <= sum strength_i x_i <= most over the stocks of a material."""
    for amount in study.amounts:
        neat = ground.over(
            study,
            lambda s, name=amount.material: s.key.strength if s.key.material == name else 0.0,  # type: ignore[misc]
        )
        exactly = f"{amount.material} exactly {amount.least_g:g} g" if amount.least_g == amount.most_g else ""
        if amount.least_g > 0:
            sentence = exactly or f"{amount.material} at least {amount.least_g:g} g"
            key = LimitKey("amount at least", (amount.material,))
            yield _row(key, f"{amount.material} at least", sentence, -neat, -amount.least_g)
        if amount.most_g < math.inf:
            sentence = exactly or f"{amount.material} at most {amount.most_g:g} g"
            key = LimitKey("amount at most", (amount.material,))
            yield _row(key, f"{amount.material} at most", sentence, neat, amount.most_g)


def _bottles(study: Study) -> dict[StockKey, Stock]:
    return {stock.key: stock for stock in study.every_stock}


def _making(study: Study, basis: FloatArray) -> dict[int, Recipe]:
    """Return the dilutions whose bottle or carrier could run out, by place among the stocks."""
    bottles, short = _bottles(study), _could_run_short(study, basis)
    return {
        i: stock.recipe
        for i, stock in enumerate(study.stocks)
        if stock.recipe is not None
        and (bottles[stock.recipe.carrier].maximum_g < math.inf or stock.recipe.source in short)
    }


def _could_run_short(study: Study, basis: FloatArray) -> frozenset[StockKey]:
    """Return the bottles that a batch could empty together with what is made of them.

    All of a bottle, neat or diluted, is at most the batch over what a gram of it brings, and what is made to no use
    at most one recipe's least.
    """
    wasted: dict[StockKey, float] = {}
    for stock in study.stocks:
        if stock.recipe is not None:
            least = stock.recipe.least_g * stock.recipe.source_share
            wasted[stock.recipe.source] = max(least, wasted.get(stock.recipe.source, 0.0))
    batch = study.settings.batch.accord_g * ROOM
    return frozenset(
        stock.key
        for stock, brings in zip(study.stocks, basis, strict=True)
        if stock.key in wasted
        and stock.maximum_g < math.inf
        and stock.maximum_g * brings < batch + wasted[stock.key] * brings
    )


def on_hand(study: Study, ground: Ground) -> Iterator[LimitRow]:
    """Grams made M_i >= x_i and M_i >= least_i z_i; sum share_i M_i + x_bottle <= on hand; carriers likewise."""
    stocks, bottles = study.stocks, _bottles(study)
    short = _could_run_short(study, ground.basis[: len(stocks)])
    n, place = len(ground.basis), {stock.key: i for i, stock in enumerate(stocks)}
    none, taken = np.zeros(n), dict[StockKey, FloatArray]()
    for column, (i, recipe) in enumerate(ground.making.items(), start=len(stocks)):
        key, label = LimitKey("made", stocks[i].key.subject), f"grams made of {stocks[i].label}"
        poured, least, used = np.zeros(n), np.zeros(n), np.zeros(n)
        poured[i], poured[column] = 1.0, -1.0
        least[column], used[i] = -1.0, recipe.least_g
        yield LimitRow(key, label, label, poured, none, 0.0)
        yield LimitRow(key, label, label, least, used, 0.0)
        if recipe.source in short:
            taken.setdefault(recipe.source, np.zeros(n))[column] = recipe.source_share
        if bottles[recipe.carrier].maximum_g < math.inf:
            taken.setdefault(recipe.carrier, np.zeros(n))[column] = 1 - recipe.source_share
    for bottle_key, row in taken.items():
        bottle = bottles[bottle_key]
        if bottle_key in place:
            row[place[bottle_key]] += 1.0
        sentence = f"{bottle.label}: {bottle.maximum_g:g} g on hand, with all dilutions made"
        key = LimitKey("on hand", bottle_key.subject)
        yield _row(key, f"{bottle.label}: on hand", sentence, row, bottle.maximum_g)


class StatedFrom(NamedTuple):
    """The kinds of rows that a limit gives, and what of a study they depend on besides the ground and its stocks."""

    kinds: tuple[LimitKind, ...]
    reads: Callable[[Study], object]


LIMITS: dict[Callable[[Study, Ground], Iterator[LimitRow]], StatedFrom] = {
    cost: StatedFrom(("cost",), lambda study: study.settings.limits.cost_per_kg),
    lines: StatedFrom(("lines",), lambda study: study.settings.limits.lines),
    dilutions: StatedFrom(("dilutions",), lambda study: study.settings.dilutions and study.settings.dilutions.most),
    carrier: StatedFrom(("carrier",), lambda study: study.settings.batch.carrier_max_g),
    undeclared: StatedFrom(("undeclared",), lambda study: study.settings.limits.undeclared),
    restricted: StatedFrom(("restricted",), lambda study: (study.settings.limits.dosage, study.rules)),
    named_amounts: StatedFrom(("amount at least", "amount at most"), lambda study: study.amounts),
    on_hand: StatedFrom(("made", "on hand"), lambda study: None),
}
"""Every limit that is a row; bottles' own masses and one strength made of each material are in the arrays."""
