"""Bottles and the dilutions that can be made from them, as stocks that can be poured."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from reaccord.domain.settings import Settings
from reaccord.domain.settled import Bottle, Settled
from reaccord.domain.stock import Content, Recipe, Stock, StockKey
from reaccord.domain.study import SetAside, Study
from reaccord.findings import Findings, Place
from reaccord.names.key import name_key
from reaccord.study.bottles import MADE
from reaccord.study.composition import dilute
from reaccord.study.excluded import set_aside
from reaccord.study.smallest_mass import exact, grams_of, smallest_mass, steps_down, steps_up

SLIGHT = 1e-12
"""Relative; nobody can pour a difference this small."""
WORTH_SAYING = 1e-6
"""Of a blend; shares printed to a few digits add up to 100 % no closer."""


class Shelf(NamedTuple):
    """What may be poured and what must not, sorted by key, and the carriers of this study."""

    stocks: tuple[Stock, ...]
    set_aside: tuple[SetAside, ...]
    carriers: frozenset[str]


def stock_shelf(settled: Settled, settings: Settings, findings: Findings, was: Study | None = None) -> Shelf:
    """Turn bottles into stocks and add the dilutions that may be made; stocks that stay as they were are taken over."""
    carriers = _carriers(settled, settings, findings)
    builder = _Builder(settings, carriers, was)
    stocks = {bottle.key: builder.stock(bottle) for bottle in settled.bottles}
    reasons = set_aside(settled.bottles, stocks, settled.rules, settings, findings)
    reasons |= _only_sums(settled, reasons, findings)
    _say_assumed(settled, reasons, findings)
    made = _made(settled, settings, builder, (stocks, reasons), findings)
    everything = {**stocks, **made}
    reasons |= _made_aside(made, reasons)
    stocks_now = tuple(everything[key] for key in sorted(everything) if key not in reasons)
    aside_now = tuple(SetAside(everything[key], reasons[key]) for key in sorted(reasons))
    if was is not None:
        stocks_now = was.stocks if _same(stocks_now, was.stocks) else stocks_now
        mine, others = ([item.stock for item in aside] for aside in (aside_now, was.set_aside))
        same = _same(mine, others) and [x.reason for x in aside_now] == [x.reason for x in was.set_aside]
        aside_now = was.set_aside if same else aside_now
    return Shelf(stocks_now, aside_now, carriers)


def _same(one: Sequence[Stock], other: Sequence[Stock]) -> bool:
    """Whether these are the very same stocks: `programme.restate` takes over what it stated of them."""
    return len(one) == len(other) and all(mine is theirs for mine, theirs in zip(one, other, strict=True))


def _only_sums(settled: Settled, aside: Mapping[StockKey, str], findings: Findings) -> dict[StockKey, str]:
    """Return the bottles, not set aside yet, that state only a sum where the target lists its members apart."""
    found = {}
    for bottle in sorted(settled.bottles, key=lambda bottle: bottle.key):
        if bottle.sums and bottle.key not in aside:
            findings.extend(bottle.sums)
            if bottle.apart:
                found[bottle.key] = "states only a sum"
    return found


def _say_assumed(settled: Settled, aside: Mapping[StockKey, str], findings: Findings) -> None:
    """Warn where something undeclared in a bottle is priced as the rest of its blend."""
    for bottle in settled.bottles:
        if bottle.price.assumed > WORTH_SAYING and bottle.key not in aside:
            findings.warn(
                "undeclared-price",
                f"blank: {bottle.key.material} costs its parts, and what nobody declares of it "
                f"({bottle.price.assumed * 100:.2g} %) as much as they do.",
                bottle.line.at.at("price_per_kg"),
            )


def _carriers(settled: Settled, settings: Settings, findings: Findings) -> frozenset[str]:
    diluting = settled.diluting | (settled.diluting_made if settings.dilutions else frozenset())
    odorants = {name for entry in settled.target for name in entry.own}
    for name in sorted(odorants & diluting):
        text, place = "", Place(settings.target.table)
        if settings.dilutions and name == settled.dilution_carrier:
            text, place = " Each dilution made adds to it.", Place(settings.file, column="dilutions.carrier")
        findings.warn(
            "carrier-in-target",
            f"{name} is a carrier, but the target names it: it counts as an odorant in this study.{text}",
            place,
        )
    return diluting - odorants


class _Builder:
    """Gives a stock its limits and its split into odorant and carrier; what it gave `was` is taken over."""

    def __init__(self, settings: Settings, carriers: frozenset[str], was: Study | None) -> None:
        self.carriers = carriers
        self.known: dict[StockKey, Stock] = {}
        self._bottles: dict[StockKey, Bottle] = {}
        if was is not None and (was.settings.balance, was.carriers) == (settings.balance, carriers):
            self.known = {stock.key: stock for stock in was.every_stock}
            self._bottles = {bottle.key: bottle for bottle in was.settled.bottles}
        self.step = settings.balance.readability_g if settings.balance else 0.0
        self.least = smallest_mass(settings.balance) if settings.balance else 0.0

    def stock(self, bottle: Bottle) -> Stock:
        line, before = bottle.line, self._bottles.get(bottle.key)
        if before is not None and (before.line, before.price) == (line, bottle.price):
            return self.known[bottle.key]
        step = line.step_g or self.step
        least = line.minimum_g if line.minimum_g is not None else self.least
        most = math.inf if line.stock_g is None else line.stock_g
        price = bottle.price.per_g
        return self.build(bottle.key, bottle.content, (step, max(least, step), most), price, line.solid)

    def build(
        self,
        key: StockKey,
        content: Content,
        amounts: tuple[float, float, float],
        price: float | None,
        solid: bool = False,
    ) -> Stock:
        step, least, most = amounts
        odorant = sum(g for name, g in sorted(content.typical.items()) if name not in self.carriers)
        if step:
            least = grams_of(steps_up(least, step), step)
            most = most if math.isinf(most) else grams_of(steps_down(most, step), step)
        return Stock(key, content, odorant, odorant + content.undeclared, price, least, most, step, solid=solid)


def _made(
    settled: Settled,
    settings: Settings,
    builder: _Builder,
    there: tuple[Mapping[StockKey, Stock], Mapping[StockKey, str]],
    findings: Findings,
) -> dict[StockKey, Stock]:
    """Return the dilutions that may be made: every material, every strength below its strongest bottle.

    One is made only for what the next stronger stock of the material is too strong to weigh. `there` are the bottles'
    stocks, and why some must not be poured.
    """
    if settings.dilutions is None:
        return {}
    carrier, (stocks, reasons) = settled.dilution_carrier, there
    usable = {key: stock for key, stock in stocks.items() if key not in reasons}
    carrier_stock = _carrier_bottle(carrier, settled, usable) or _carrier_bottle(carrier, settled, stocks)
    if carrier_stock is None:
        findings.error(
            "no-carrier-bottle",
            f"no neat bottle holds {carrier}. Add one to {settings.shelf.bottles}, so that its grams and price count.",
            Place(settings.file, column="dilutions.carrier"),
        )
        return {}
    endless = {key[:3]: usable[key] for key in sorted(usable, reverse=True) if math.isinf(usable[key].maximum_g)}
    made: dict[StockKey, Stock] = {}
    for source in _sources(stocks, usable):
        if source.key.material == carrier_stock.key.material or source.active <= 0:
            continue
        stronger, fine = source, _too_fine(settings, source)
        for strength in sorted(settings.dilutions.strengths, reverse=True):
            key = StockKey(source.key.material, strength, carrier, MADE)
            if strength >= source.key.strength:
                continue
            stock = endless.get(key[:3])  # it stands there at this strength and never runs out: nothing is made beside
            if stock is None:
                times = float(exact(stronger.key.strength) / exact(strength))
                needed_g = math.inf if fine else stronger.minimum_g * times
                stock = _dilution(key, source, carrier_stock, builder, needed_g)
                if stock is not None:
                    made[key] = stock
            stronger = stock or stronger
    return made


def _too_fine(settings: Settings, source: Stock) -> bool:
    """Whether an amount is asked of a material that no number of its bottle's steps makes: 1.005 g to 0.01 g."""
    for amount in settings.limits.amounts if source.step_g else ():
        if name_key(amount.material) == name_key(source.key.material):
            step = exact(source.step_g) * exact(source.key.strength)
            least = amount.exactly_g if amount.exactly_g is not None else amount.at_least_g or 0.0
            most = amount.exactly_g if amount.exactly_g is not None else amount.at_most_g
            if most is not None and math.ceil(exact(least) / step) * step > exact(most):
                return True
    return False


def _sources(stocks: Mapping[StockKey, Stock], usable: Mapping[StockKey, Stock]) -> list[Stock]:
    """Return the source bottle of each material: usable if one is, then the strongest, the fullest, the cheapest."""
    best: dict[str, tuple[tuple[bool, float, float, float], Stock]] = {}
    for key in sorted(stocks):
        price = stocks[key].price_per_g
        rank = (key in usable, key.strength, stocks[key].maximum_g, -math.inf if price is None else -price)
        if key.material not in best or rank > best[key.material][0]:
            best[key.material] = rank, stocks[key]
    return [best[name][1] for name in sorted(best)]


def _dilution(key: StockKey, source: Stock, carrier: Stock, builder: _Builder, needed_g: float) -> Stock | None:
    """Return the stock made from `source`, or None if too little is left to weigh its recipe.

    Made grams are the grams used, or the least that can be made with both parts weighable if that is
    more; the source bottle must hold its part of them.
    """
    known = builder.known.get(key)
    if known is not None and known.recipe is not None and known.recipe.needed_g == needed_g:
        recipe = known.recipe
        if builder.known[recipe.source] is source and builder.known[recipe.carrier] is carrier:
            return known
    share = float(exact(key.strength) / exact(source.key.strength))
    least_made = max(source.minimum_g / share, carrier.minimum_g / (1 - share))
    short = least_made * share > source.maximum_g * (1 + SLIGHT)
    if short or least_made * (1 - share) > carrier.maximum_g * (1 + SLIGHT):
        return None
    content = dilute(source.content, share, carrier.content)
    price = None
    if source.price_per_g is not None and carrier.price_per_g is not None:
        price = share * source.price_per_g + (1 - share) * carrier.price_per_g
    most = min(source.maximum_g / share, carrier.maximum_g / (1 - share))
    stock = builder.build(key, content, (builder.step, max(builder.least, builder.step), most), price)
    recipe = Recipe(source.key, share, carrier.key, least_made, needed_g)
    return replace(stock, recipe=recipe)


def _carrier_bottle(carrier: str, settled: Settled, stocks: Mapping[StockKey, Stock]) -> Stock | None:
    """Return the neat bottle a carrier comes from: the purest, then the fullest, then by name."""
    candidates = [
        stock
        for key, stock in sorted(stocks.items())
        if key.strength == 1 and carrier in settled.stands_for[key.material]
    ]
    if not candidates:
        return None
    return max(candidates, key=lambda s: (s.content.typical.get(carrier, 0.0), s.maximum_g))


def _made_aside(made: Mapping[StockKey, Stock], reasons: Mapping[StockKey, str]) -> dict[StockKey, str]:
    found: dict[StockKey, str] = {}
    for key, stock in made.items():
        if stock.recipe is None:
            continue
        if stock.recipe.source in reasons:
            why = reasons[stock.recipe.source]
            found[key] = why if why == "excluded" else f"its bottle is {why}"
        elif stock.recipe.carrier in reasons:
            found[key] = f"its carrier is {reasons[stock.recipe.carrier]}"
        elif stock.maximum_g < stock.minimum_g:
            found[key] = "less left than can be weighed"
    return found
