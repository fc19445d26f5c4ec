"""A study stated as a programme in fractions: its tables read as the decimals that were written.

The code that opens blends, dilutes and combines samples is the same, run on exact numbers. Rows, factors and limits
are stated once more from the definitions in plain Python: nothing is taken from the programme the solver was given.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Any

from reaccord.certificate.format import Limit, Numbers, Problem, Row
from reaccord.certificate.number import exactly, fraction
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.domain.target import TargetRow
from reaccord.findings import Findings
from reaccord.study.load import study_from_tables

WEIGHT_DIGITS = 12
"""A weight is written with no more digits than this."""


def restate(study: Study) -> Problem:
    """Return the programme of a study in fractions; columns, rows and limits in the order of `programme.state`."""
    tables = replace(study.tables, settings=study.settings)
    exact = study_from_tables(exactly(tables), Findings())
    stocks = exact.stocks
    open_rest = exact.target.rest == "open"
    named = [row for row in exact.target.rows if row.kind == "named"]
    basis = tuple(fraction(s.odorant if open_rest else sum(_held(row, s) for row in named)) for s in stocks)
    making = _making(exact, basis)
    none = (Fraction(0),) * len(making)

    def each(value: Callable[[Stock], Any]) -> Numbers:
        """Return a coefficient for every stock, 0 for the columns of grams made."""
        return (*(fraction(value(stock)) for stock in stocks), *none)

    return Problem(
        batch=fraction(exact.settings.batch.accord_g),
        columns=(*(stock.label for stock in stocks), *(f"made: {stocks[i].label}" for i in making)),
        basis=(*basis, *none),
        minimum=each(lambda stock: stock.minimum_g),
        maximum=(*(_most(stock) for stock in stocks), *(None for _ in making)),
        rows=tuple(
            Row(
                row.label,
                fraction(row.low),
                fraction(row.high),
                _factor_squared(row, exact),
                each(lambda stock, row=row: _held(row, stock)),  # type: ignore[misc]
            )
            for row in exact.target.rows
        ),
        limits=(*_limits(exact, (*basis, *none), each), *_on_hand(exact, basis, making, each)),
        strengths=_strengths(stocks),
    )


def _most(stock: Stock) -> Fraction | None:
    """Return the grams on hand; of a dilution, no more than what the next stronger stock is too strong to weigh."""
    ends = [stock.maximum_g, stock.recipe.needed_g if stock.recipe is not None else math.inf]
    return min((fraction(grams) for grams in ends if not math.isinf(grams)), default=None)


def _held(row: TargetRow, stock: Stock) -> Any:
    if row.kind == "undeclared":
        return stock.content.undeclared
    return sum(stock.content.typical.get(name, 0) for name in row.members)


def _factor_squared(row: TargetRow, study: Study) -> Fraction:
    """Return `weight^2` times 1, `1 / max(t, floor)` or `1 / max(t, floor)^2`; its root is what is irrational."""
    fit = study.settings.fit
    share = {"named": row.share, "foreign": 0}.get(row.kind, row.high)
    base = max(fraction(share), fraction(fit.floor if row.kind == "named" else fit.foreign_floor))
    squared = {"equal": Fraction(1), "proportional": 1 / base, "relative": 1 / base**2}[fit.scale]
    weight = Fraction(f"{row.factor / math.sqrt(squared):.{WEIGHT_DIGITS}g}")
    return weight**2 * squared


def _strengths(stocks: tuple[Stock, ...]) -> tuple[tuple[tuple[int, ...], ...], ...]:
    """Return what excludes each other of a material: its dilutions, and its bottles at the strength of their source."""
    sources = {(s.key.material, s.recipe.source.strength) for s in stocks if s.recipe is not None}
    found: dict[str, dict[float, list[int]]] = {}
    for i, stock in enumerate(stocks):
        if stock.recipe is not None or (stock.key.material, stock.key.strength) in sources:
            found.setdefault(stock.key.material, {}).setdefault(stock.key.strength, []).append(i)
    several = (by_strength for _, by_strength in sorted(found.items()) if len(by_strength) > 1)
    return tuple(tuple(tuple(columns) for _, columns in sorted(one.items())) for one in several)


def _limits(study: Study, basis: Numbers, each: Callable[[Callable[[Stock], Any]], Numbers]) -> Iterator[Limit]:
    """Yield cost, lines, dilutions, carrier, undeclared, restricted and named amounts, per gram of the basis (n,)."""

    def beyond(row: Numbers, share: Fraction) -> Numbers:
        return tuple(entry - share * brings for entry, brings in zip(row, basis, strict=True))

    limits, none = study.settings.limits, each(lambda _: 0)
    if limits.cost_per_kg is not None:
        row = beyond(each(lambda s: s.price_per_g or 0), fraction(limits.cost_per_kg) / 1000)
        yield Limit("cost", (), "cost", row, none, Fraction())
    if limits.lines is not None:
        yield Limit("lines", (), "lines", none, each(lambda _: 1), fraction(limits.lines))
    if study.settings.dilutions is not None and study.settings.dilutions.most is not None:
        made = each(lambda s: int(s.recipe is not None))
        yield Limit("dilutions", (), "dilutions made", none, made, fraction(study.settings.dilutions.most))
    if study.settings.batch.carrier_max_g is not None:
        grams = fraction(study.settings.batch.carrier_max_g)
        yield Limit("carrier", (), "carrier", each(lambda s: s.carrier_share), none, grams)
    if limits.undeclared is not None:
        row = beyond(each(lambda s: s.content.undeclared), fraction(limits.undeclared))
        yield Limit("undeclared", (), "undeclared", row, none, Fraction())
    dosage = fraction(limits.dosage or 0)
    for key, label, terms, most, _ in study.claims():
        row = each(
            lambda s, terms=terms: (  # type: ignore[misc]
                dosage * sum(fraction(c) * fraction(member.held(s.content)) for c, member in terms)
            )
        )
        yield Limit(*key, label, beyond(row, fraction(most)), none, Fraction())
    for amount in study.amounts:
        name = amount.material
        row = each(lambda s, name=name: s.key.strength if s.key.material == name else 0)  # type: ignore[misc]
        if amount.least_g > 0:
            least = -fraction(amount.least_g)
            yield Limit("amount at least", (name,), f"{name} at least", tuple(-entry for entry in row), none, least)
        if amount.most_g < math.inf:
            yield Limit("amount at most", (name,), f"{name} at most", row, none, fraction(amount.most_g))


def _short(study: Study, basis: Numbers) -> frozenset[StockKey]:
    """Return the bottles that a batch, 1 % more for rounding, could empty together with what is made of them."""
    made = [s.recipe for s in study.stocks if s.recipe is not None]
    wasted: dict[StockKey, Fraction] = {}
    for recipe in made:
        least = fraction(recipe.least_g) * fraction(recipe.source_share)
        wasted[recipe.source] = max(least, wasted.get(recipe.source, least))
    batch = fraction(study.settings.batch.accord_g) * Fraction(101, 100)
    return frozenset(
        s.key
        for s, brings in zip(study.stocks, basis, strict=True)
        if s.key in wasted
        and not math.isinf(s.maximum_g)
        and fraction(s.maximum_g) * brings < batch + wasted[s.key] * brings
    )


def _making(study: Study, basis: Numbers) -> tuple[int, ...]:
    """Return the dilutions whose bottle or carrier could run out."""
    everything, short = _everything(study), _short(study, basis)
    recipes = [(i, stock.recipe) for i, stock in enumerate(study.stocks)]
    return tuple(
        i
        for i, r in recipes
        if r is not None and (r.source in short or not math.isinf(everything[r.carrier].maximum_g))
    )


def _everything(study: Study) -> dict[StockKey, Stock]:
    return {s.key: s for s in study.every_stock}


def _on_hand(
    study: Study, basis: Numbers, making: tuple[int, ...], each: Callable[[Callable[[Stock], Any]], Numbers]
) -> Iterator[Limit]:
    """Yield: made at least what is used and the recipe's own least; what is taken from a bottle fits it."""
    stocks, none, everything, short = study.stocks, each(lambda _: 0), _everything(study), _short(study, basis)
    taken: dict[StockKey, list[Fraction]] = {}
    for column, i in enumerate(making, start=len(stocks)):
        recipe = stocks[i].recipe
        assert recipe is not None
        subject, label = stocks[i].key.subject, f"grams made of {stocks[i].label}"
        made = tuple(Fraction(-(k == column)) for k in range(len(none)))
        poured = tuple(entry + (k == i) for k, entry in enumerate(made))
        used = tuple(fraction(recipe.least_g) if k == i else Fraction(0) for k in range(len(none)))
        yield Limit("made", subject, label, poured, none, Fraction())
        yield Limit("made", subject, label, made, used, Fraction())
        share = fraction(recipe.source_share)
        for source, part, bound in (
            (recipe.source, share, recipe.source in short),
            (recipe.carrier, 1 - share, not math.isinf(everything[recipe.carrier].maximum_g)),
        ):
            if bound:
                taken.setdefault(source, list(each(lambda s, key=source: s.key == key)))[column] = part  # type: ignore[misc]
    for key, row in taken.items():
        bottle = everything[key]
        yield Limit("on hand", key.subject, f"{bottle.label}: on hand", tuple(row), none, fraction(bottle.maximum_g))
