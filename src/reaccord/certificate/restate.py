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
from reaccord.domain.stock import Stock
from reaccord.domain.study import Study
from reaccord.domain.target import Row as TargetRow
from reaccord.findings import Findings
from reaccord.study.load import study_from_tables

WEIGHT_DIGITS = 12
"""A weight is written with no more digits than this."""


def restate(study: Study) -> Problem:
    """Return the programme of a study in fractions; columns, rows and limits in the order of `programme.state`."""
    tables = replace(study.tables, settings=study.settings)
    exact = study_from_tables(exactly(tables), Findings())
    making = _making(exact)
    stocks, none = exact.stocks, (Fraction(0),) * len(making)

    def each(value: Callable[[Stock], Any]) -> Numbers:
        """Return a coefficient for every stock, 0 for the columns of grams made."""
        return (*(fraction(value(stock)) for stock in stocks), *none)

    open_rest = exact.target.rest == "open"
    named = [row for row in exact.target.rows if row.kind == "named"]
    return Problem(
        batch=fraction(exact.settings.batch.accord_g),
        columns=(*(stock.label for stock in stocks), *(f"made: {stocks[i].label}" for i in making)),
        basis=each(lambda stock: stock.odorant if open_rest else sum(_held(row, stock) for row in named)),
        minimum=each(lambda stock: stock.minimum_g),
        maximum=(*(_endless(stock.maximum_g) for stock in stocks), *(None for _ in making)),
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
        limits=(*_limits(exact, each), *_carrier_on_hand(exact, making, each)),
        strengths=_strengths(stocks),
    )


def _endless(grams: float) -> Fraction | None:
    return None if math.isinf(grams) else fraction(grams)


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
    found: dict[str, dict[float, list[int]]] = {}
    for i, stock in enumerate(stocks):
        found.setdefault(stock.key.material, {}).setdefault(stock.key.strength, []).append(i)
    several = (by_strength for _, by_strength in sorted(found.items()) if len(by_strength) > 1)
    return tuple(tuple(tuple(columns) for _, columns in sorted(one.items())) for one in several)


def _limits(study: Study, each: Callable[[Callable[[Stock], Any]], Numbers]) -> Iterator[Limit]:
    """Yield cost, lines, carrier, undeclared, restricted and named amounts, as `model` defines them."""
    limits, none = study.settings.limits, each(lambda _: 0)
    if limits.cost_per_kg is not None:
        ceiling = fraction(limits.cost_per_kg) / 1000
        row = each(lambda s: fraction(s.price_per_g or 0) - ceiling * fraction(s.active))
        yield Limit("cost", (), "cost", row, none, Fraction())
    if limits.lines is not None:
        yield Limit("lines", (), "lines", none, each(lambda _: 1), fraction(limits.lines))
    if study.settings.batch.carrier_max_g is not None:
        grams = fraction(study.settings.batch.carrier_max_g)
        yield Limit("carrier", (), "carrier", each(lambda s: s.carrier_share), none, grams)
    if limits.undeclared is not None:
        share = fraction(limits.undeclared)
        row = each(lambda s: fraction(s.content.undeclared) - share * fraction(s.active))
        yield Limit("undeclared", (), "undeclared", row, none, Fraction())
    dosage = fraction(limits.dosage or 0)
    for key, label, terms, most, _ in study.claims():
        row = each(
            lambda s, terms=terms, most=most: (  # type: ignore[misc]
                dosage * sum(fraction(c) * fraction(member.held(s.content)) for c, member in terms)
                - fraction(most) * fraction(s.active)
            )
        )
        yield Limit(*key, label, row, none, Fraction())
    for amount in study.amounts:
        name = amount.material
        row = each(lambda s, name=name: s.key.strength if s.key.material == name else 0)  # type: ignore[misc]
        if amount.least_g > 0:
            least = -fraction(amount.least_g)
            yield Limit("amount at least", (name,), f"{name} at least", tuple(-entry for entry in row), none, least)
        if amount.most_g < math.inf:
            yield Limit("amount at most", (name,), f"{name} at most", row, none, fraction(amount.most_g))


def _making(study: Study) -> tuple[int, ...]:
    """Return the dilutions whose carrier's bottle could run out."""
    everything = {s.key: s for s in (*study.stocks, *(item.stock for item in study.set_aside))}
    recipes = [(i, stock.recipe) for i, stock in enumerate(study.stocks)]
    return tuple(i for i, r in recipes if r is not None and not math.isinf(everything[r.carrier].maximum_g))


def _carrier_on_hand(
    study: Study, making: tuple[int, ...], each: Callable[[Callable[[Stock], Any]], Numbers]
) -> Iterator[Limit]:
    """Yield: made at least what is used and the recipe's own least; what is taken from a carrier's bottle fits it."""
    stocks, none = study.stocks, each(lambda _: 0)
    everything = {s.key: s for s in (*stocks, *(item.stock for item in study.set_aside))}
    taken: dict[Any, list[Fraction]] = {}
    for column, i in enumerate(making, start=len(stocks)):
        recipe = stocks[i].recipe
        assert recipe is not None
        subject, label = stocks[i].key.subject, f"grams made of {stocks[i].label}"
        made = tuple(Fraction(-(k == column)) for k in range(len(none)))
        poured = tuple(entry + (k == i) for k, entry in enumerate(made))
        used = tuple(fraction(recipe.least_g) if k == i else Fraction(0) for k in range(len(none)))
        yield Limit("made", subject, label, poured, none, Fraction())
        yield Limit("made", subject, label, made, used, Fraction())
        taken.setdefault(recipe.carrier, list(each(lambda s, key=recipe.carrier: s.key == key)))  # type: ignore[misc]
        taken[recipe.carrier][column] = 1 - fraction(recipe.source_share)
    for key, row in taken.items():
        bottle = everything[key]
        label = f"{bottle.label}: on hand"
        yield Limit("on hand", key.subject, label, tuple(row), none, fraction(bottle.maximum_g))
