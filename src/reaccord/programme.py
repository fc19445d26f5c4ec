"""A study stated as a programme: labelled arrays, one short function per limit.

A limit is stated three times, each apart from the others: here, in `answer/limits_held.py` and in
`certificate/restate.py`. DEVELOPERS.md has the recipe.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from reaccord.contract import FloatArray, LimitRow, Made, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import Recipe, Stock, StockKey
from reaccord.domain.study import Study


def state(study: Study) -> Programme:
    """State a study as a programme.

    Columns are the study's stocks in their order, then one helper column (grams made) for each dilution
    whose carrier could run out.
    """
    stocks = study.stocks
    making = _making(study)
    n = len(stocks) + len(making)
    content = np.zeros((len(study.target.rows), n))
    content[:, : len(stocks)] = _content(study)
    limits = tuple(row for limit in LIMITS for row in limit(study, n))
    on_hand = [stock.maximum_g for stock in stocks]
    return Programme(
        columns=(*(stock.label for stock in stocks), *(f"made: {stocks[i].label}" for i in making)),
        rows=tuple(row.label for row in study.target.rows),
        content=content,
        low=np.array([row.low for row in study.target.rows]),
        high=np.array([row.high for row in study.target.rows]),
        factor=np.array([row.factor for row in study.target.rows]),
        basis=_basis(study, content),
        batch_g=study.settings.batch.accord_g,
        minimum=np.array([*(stock.minimum_g for stock in stocks), *(0.0 for _ in making)]),
        maximum=np.array([*on_hand, *(math.inf for _ in making)]),
        limits=limits,
        strengths=_strengths(stocks),
        measure=study.settings.fit.measure,
        step=np.array([*(stock.step_g for stock in stocks), *(0.0 for _ in making)]),
        made=tuple(Made(i, column, recipe.least_g) for column, (i, recipe) in enumerate(making.items(), len(stocks))),
    )


def _content(study: Study) -> FloatArray:
    """Return gram of each row's constituents per gram of stock; (K, stocks)."""
    rows_of: dict[str, list[int]] = {}
    for k, row in enumerate(study.target.rows):
        for name in row.members:
            rows_of.setdefault(name, []).append(k)
    found = np.zeros((len(study.target.rows), len(study.stocks)))
    for i, stock in enumerate(study.stocks):
        for name, gram in sorted(stock.content.typical.items()):  # sums in one order, whatever that of the tables
            for k in rows_of.get(name, ()):
                found[k, i] += gram
    for k, row in enumerate(study.target.rows):
        if row.kind == "undeclared":
            found[k] = [stock.content.undeclared for stock in study.stocks]
    return found


def _basis(study: Study, content: FloatArray) -> FloatArray:
    """Return gram of what the batch is stated in per gram of stock; (n,)."""
    if study.target.rest == "open":
        return _over(study, content.shape[1], lambda stock: stock.odorant)
    named = [k for k, row in enumerate(study.target.rows) if row.kind == "named"]
    basis: FloatArray = np.zeros(content.shape[1])
    for k in named:
        basis += content[k]
    return basis


def _over(study: Study, n: int, value: Callable[[Stock], float]) -> FloatArray:
    """Return a row of coefficients, one a stock, 0 for helper columns."""
    row = np.zeros(n)
    row[: len(study.stocks)] = [value(stock) for stock in study.stocks]
    return row


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


def cost(study: Study, n: int) -> Iterator[LimitRow]:
    """sum price_i x_i <= cost_per_kg / 1000 * sum active_i x_i."""
    most = study.settings.limits.cost_per_kg
    if most is not None:
        amounts = _over(study, n, lambda s: (s.price_per_g or 0.0) - most / 1000 * s.active)
        yield _row(LimitKey("cost"), "cost", f"cost at most {most:.2f} per kg", amounts, 0.0)


def lines(study: Study, n: int) -> Iterator[LimitRow]:
    """At most so many stocks used."""
    most = study.settings.limits.lines
    if most is not None:
        used = _over(study, n, lambda _: 1.0)
        sentence = f"at most {most} line{'s' * (most != 1)}"
        yield LimitRow(LimitKey("lines"), "lines", sentence, np.zeros(n), used, most)


def carrier(study: Study, n: int) -> Iterator[LimitRow]:
    """sum (1 - active_i) x_i <= cap."""
    most = study.settings.batch.carrier_max_g
    if most is not None:
        amounts = _over(study, n, lambda s: s.carrier_share)
        yield _row(LimitKey("carrier"), "carrier", f"carrier at most {most:g} g", amounts, most)


def undeclared(study: Study, n: int) -> Iterator[LimitRow]:
    """sum undeclared_i x_i <= share * sum active_i x_i."""
    most = study.settings.limits.undeclared
    if most is not None:
        amounts = _over(study, n, lambda s: s.content.undeclared - most * s.active)
        sentence = f"undeclared mass at most {most * 100:g} %"
        yield _row(LimitKey("undeclared"), "undeclared", sentence, amounts, 0.0)


def restricted(study: Study, n: int) -> Iterator[LimitRow]:
    """dosage * sum_terms c q_member <= most, times the carrier-free mass; contents at their high end."""
    dosage = study.settings.limits.dosage or 0.0
    for key, label, terms, most, unit in study.claims():
        amounts = _over(
            study,
            n,
            lambda s, terms=terms, most=most: (  # type: ignore[misc]
                dosage * sum(c * member.held(s.content) for c, member in terms) - most * s.active
            ),
        )
        what = f"{most:g} of the ratio" if unit == "ratio" else f"{most * 100:.4g} % in the product"
        yield _row(key, label, f"{label} at most {what}", amounts, 0.0)


def named_amounts(study: Study, n: int) -> Iterator[LimitRow]:
    """least <= sum strength_i x_i <= most over the stocks of a material."""
    for amount in study.amounts:
        neat = _over(
            study,
            n,
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
    return {stock.key: stock for stock in (*(item.stock for item in study.set_aside), *study.stocks)}


def _making(study: Study) -> dict[int, Recipe]:
    """Return the dilutions whose carrier's bottle could run out, by place among the stocks."""
    bottles = _bottles(study)
    return {
        i: stock.recipe
        for i, stock in enumerate(study.stocks)
        if stock.recipe is not None and bottles[stock.recipe.carrier].maximum_g < math.inf
    }


def carrier_on_hand(study: Study, n: int) -> Iterator[LimitRow]:
    """Grams made M_i >= x_i and M_i >= least_i z_i; sum (1 - share_i) M_i + x_carrier <= on hand."""
    stocks, bottles = study.stocks, _bottles(study)
    taken: dict[StockKey, FloatArray] = {}
    for column, (i, recipe) in enumerate(_making(study).items(), start=len(stocks)):
        key, label = LimitKey("made", stocks[i].key.subject), f"grams made of {stocks[i].label}"
        poured, least, used = np.zeros(n), np.zeros(n), np.zeros(n)
        poured[i], poured[column] = 1.0, -1.0
        least[column], used[i] = -1.0, recipe.least_g
        yield _row(key, label, label, poured, 0.0)
        yield LimitRow(key, label, label, least, used, 0.0)
        row = taken.setdefault(recipe.carrier, np.zeros(n))
        row[column] = 1 - recipe.source_share
    for carrier_key, row in taken.items():
        bottle = bottles[carrier_key]
        row[: len(stocks)] += [float(stock.key == carrier_key) for stock in stocks]
        sentence = f"{bottle.label}: {bottle.maximum_g:g} g on hand"
        key = LimitKey("on hand", carrier_key.subject)
        yield _row(key, f"{bottle.label}: on hand", sentence, row, bottle.maximum_g)


LIMITS: tuple[Callable[[Study, int], Iterator[LimitRow]], ...] = (
    cost,
    lines,
    carrier,
    undeclared,
    restricted,
    named_amounts,
    carrier_on_hand,
)
"""Every limit that is a row; bottles' own masses and one strength per material are in the arrays."""
