"""Bottles and the dilutions that can be made from them, as stocks that can be poured."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from reaccord.bench.balance import exact, grams_of, smallest_mass, steps_down, steps_up
from reaccord.composition import Opener, dilute
from reaccord.domain.lines import BottleLine
from reaccord.domain.settings import Settings
from reaccord.domain.stock import Content, Recipe, Stock, StockKey
from reaccord.domain.study import SetAside
from reaccord.findings import Findings, Place
from reaccord.materials import Reconciled
from reaccord.prices import Prices

MADE = "made"
"""The lot of a stock that would be made for this batch."""


@dataclass(frozen=True)
class Shelf:
    """What stands there: each bottle with its line, and the carriers of this study."""

    bottles: Mapping[StockKey, BottleLine]
    stocks: tuple[Stock, ...]
    set_aside: tuple[SetAside, ...]
    carriers: frozenset[str]


def stock_shelf(settled: Reconciled, opener: Opener, odorants: frozenset[str], findings: Findings) -> Shelf:
    """Turn bottles into stocks and add the dilutions that may be made.

    `odorants` are the constituents the target names: they are no carriers in this study.
    """
    bottles = _bottles(settled, findings)
    contents = {key: _content(key, line, settled, opener, findings) for key, line in bottles.items()}
    diluting = _carriers(settled, opener)
    carriers = diluting - odorants
    for name in sorted(odorants & diluting):
        findings.warn(
            "carrier-in-target",
            f"{name} is a carrier, but the target names it: it counts as an odorant in this study.",
            Place(settled.tables.settings.target.table),
        )
    prices = Prices(settled, bottles)
    builder = _Builder(settled.tables.settings, carriers, prices)
    stocks = {key: builder.stock(key, contents[key], line) for key, line in bottles.items()}
    made = _made(settled, builder, stocks, findings)
    everything = {**stocks, **made}
    reasons = _set_aside(settled, bottles, everything, findings)
    return Shelf(
        bottles,
        tuple(everything[key] for key in sorted(everything) if key not in reasons),
        tuple(SetAside(everything[key], reasons[key]) for key in sorted(reasons)),
        frozenset(carriers),
    )


def _bottles(settled: Reconciled, findings: Findings) -> dict[StockKey, BottleLine]:
    bottles: dict[StockKey, BottleLine] = {}
    quiet = Findings()
    for line in settled.tables.bottles:
        material = settled.materials.find(line.material) or line.material
        key = StockKey(material, line.strength, settled.carrier(line.carrier, line.at, quiet), line.lot)
        other = bottles.setdefault(key, line)
        if other is not line:
            findings.error(
                "duplicate-bottle",
                f"the same bottle (material, strength, carrier, lot) stands in row {other.at.row} already.",
                line.at.at("material"),
            )
    return bottles


def _content(key: StockKey, line: BottleLine, settled: Reconciled, opener: Opener, findings: Findings) -> Content:
    if not settled.parts.get(key.material):
        near = [m for m in settled.materials.all() if settled.parts.get(m)]
        hint = settled.materials.nearest(key.material, near)
        findings.error(
            "no-composition",
            f'nothing says what "{key.material}" is made of. Give constituent and purity, or add its rows to '
            "the compositions, or the part undeclared with share 100." + (f' Did you mean "{hint}"?' if hint else ""),
            line.at.at("material"),
        )
        return Content({}, {}, {key.material: 1.0}, 1.0)
    return dilute(opener.material(key.material), key.strength, opener.carrier(key.carrier))


def _carriers(settled: Reconciled, opener: Opener) -> set[str]:
    marked = {name for name, known in settled.names.known().items() if known.carrier}
    in_materials = {name for material in settled.carrier_materials for name in opener.material(material).typical}
    return marked | settled.carriers | in_materials


class _Builder:
    """Gives a stock its limits, its price and its split into odorant and carrier."""

    def __init__(self, settings: Settings, carriers: set[str], prices: Prices) -> None:
        self.balance = settings.balance
        self.carriers = carriers
        self.prices = prices
        self.step = settings.balance.readability_g if settings.balance else 0.0
        self.least = smallest_mass(settings.balance) if settings.balance else 0.0

    def stock(self, key: StockKey, content: Content, line: BottleLine) -> Stock:
        step = line.step_g or self.step
        least = line.minimum_g if line.minimum_g is not None else self.least
        most = math.inf if line.stock_g is None else line.stock_g
        return self.build(key, content, (step, max(least, step), most), self.prices.bottle(key), line.solid)

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
    settled: Reconciled, builder: _Builder, stocks: Mapping[StockKey, Stock], findings: Findings
) -> dict[StockKey, Stock]:
    """Return the dilutions that may be made: every material, every strength below its strongest bottle."""
    settings = settled.tables.settings
    if settings.dilutions is None:
        return {}
    place = Place(settings.file, column="dilutions.carrier")
    carrier = settled.carrier(settings.dilutions.carrier, place, findings)
    carrier_stock = carrier_bottle(carrier, settled, stocks)
    if carrier_stock is None:
        findings.error(
            "no-carrier-bottle",
            f"no neat bottle holds {carrier}. Add one to {settings.shelf.bottles}, so that its grams and price count.",
            place,
        )
        return {}
    made: dict[StockKey, Stock] = {}
    for source in _sources(stocks):
        if source.key.material == carrier_stock.key.material or source.active <= 0:
            continue
        for strength in settings.dilutions.strengths:
            key = StockKey(source.key.material, strength, carrier, MADE)
            if strength < source.key.strength and not _unlimited_already(key, stocks):
                stock = _dilution(key, source, carrier_stock, builder)
                if stock is not None:
                    made[key] = stock
    return made


def _sources(stocks: Mapping[StockKey, Stock]) -> list[Stock]:
    """Return the source bottle of each material: the strongest, and of those the fullest."""
    best: dict[str, Stock] = {}
    for key in sorted(stocks):
        stock = stocks[key]
        other = best.get(key.material)
        if other is None or (key.strength, stock.maximum_g) > (other.key.strength, other.maximum_g):
            best[key.material] = stock
    return [best[name] for name in sorted(best)]


def _unlimited_already(key: StockKey, stocks: Mapping[StockKey, Stock]) -> bool:
    return any(other[:3] == key[:3] and math.isinf(stock.maximum_g) for other, stock in stocks.items())


def _dilution(key: StockKey, source: Stock, carrier: Stock, builder: _Builder) -> Stock | None:
    """Return the stock made from `source`, or None if too little is left to weigh its recipe.

    Made grams are the grams used, or the least that can be made with both parts weighable if that is
    more; the source bottle must hold its part of them.
    """
    share = float(exact(key.strength) / exact(source.key.strength))
    least_made = max(source.minimum_g / share, carrier.minimum_g / (1 - share))
    if least_made * share > source.maximum_g or least_made * (1 - share) > carrier.maximum_g:
        return None
    content = dilute(source.content, share, carrier.content)
    price = None
    if source.price_per_g is not None and carrier.price_per_g is not None:
        price = share * source.price_per_g + (1 - share) * carrier.price_per_g
    most = min(source.maximum_g / share, carrier.maximum_g / (1 - share))
    stock = builder.build(key, content, (builder.step, max(builder.least, builder.step), most), price)
    recipe = Recipe(source.key, share, carrier.key, least_made)
    return Stock(**{**vars(stock), "recipe": recipe})


def carrier_bottle(carrier: str, settled: Reconciled, stocks: Mapping[StockKey, Stock]) -> Stock | None:
    """Return the neat bottle a carrier comes from: the purest, then the fullest, then by name."""
    candidates = [
        stock
        for key, stock in sorted(stocks.items())
        if key.strength == 1 and settled.is_bottle_of(key.material, carrier)
    ]
    if not candidates:
        return None
    return max(candidates, key=lambda s: (s.content.typical.get(carrier, 0.0), s.maximum_g))


def _set_aside(
    settled: Reconciled,
    bottles: Mapping[StockKey, BottleLine],
    stocks: Mapping[StockKey, Stock],
    findings: Findings,
) -> dict[StockKey, str]:
    """Return the stocks that must not be poured, each with its reason."""
    settings = settled.tables.settings
    reasons: dict[StockKey, str] = {}
    for key, line in bottles.items():
        if _is_overdue(line, settled):
            exclude = settings.shelf.overdue == "exclude"
            if exclude:
                reasons[key] = "past its date"
            findings.warn(
                "overdue",
                f"{key.material} is past its date; "
                + ("left out." if exclude else 'still used. overdue = "exclude" leaves such bottles out.'),
                line.at.at("opened"),
            )
        if stocks[key].maximum_g < stocks[key].minimum_g:
            reasons[key] = "less left than can be weighed"
            findings.warn(
                "too-little-left",
                f"{line.stock_g:g} g of {key.material} are less than can be weighed "
                f"({stocks[key].minimum_g:g} g); left out.",
                line.at.at("stock_g"),
            )
    excluded = _excluded(settled, findings)
    for key, stock in stocks.items():
        if key.material in excluded:
            reasons[key] = "excluded"
        elif stock.recipe is not None and stock.recipe.source in reasons:
            reasons[key] = f"its bottle is {reasons[stock.recipe.source]}"
        elif stock.recipe is not None and stock.recipe.carrier in reasons:
            reasons[key] = f"its carrier is {reasons[stock.recipe.carrier]}"
        elif stock.maximum_g < stock.minimum_g:
            reasons.setdefault(key, "less left than can be weighed")
    return reasons


def _excluded(settled: Reconciled, findings: Findings) -> set[str]:
    settings = settled.tables.settings
    excluded = set()
    for text in settings.limits.exclude:
        material = settled.materials.find(text)
        if material is None:
            hint = settled.materials.nearest(text)
            findings.error(
                "unknown-material",
                f'no bottle is called "{text}".' + (f' Did you mean "{hint}"?' if hint else ""),
                Place(settings.file, column="limits.exclude"),
            )
        else:
            excluded.add(material)
    return excluded


def _is_overdue(line: BottleLine, settled: Reconciled) -> bool:
    if line.opened is None or line.keeps_months is None:
        return False
    months = int(line.keeps_months)
    year, month = divmod(line.opened.month - 1 + months, 12)
    last = line.opened.replace(day=1, year=line.opened.year + year, month=month + 1)
    days = (line.opened.day - 1) + round((line.keeps_months - months) * 30.4375)
    return (settled.tables.settings.date - last).days > days
