"""Bottles and the dilutions that can be made from them, as stocks that can be poured."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from reaccord.domain.lines import BottleLine
from reaccord.domain.settings import Settings
from reaccord.domain.stock import Content, Recipe, Stock, StockKey
from reaccord.domain.study import SetAside
from reaccord.findings import Findings, Place
from reaccord.names.key import did_you_mean
from reaccord.study.composition import Opener, dilute
from reaccord.study.excluded import doubt_dates, set_aside
from reaccord.study.materials import Reconciled
from reaccord.study.prices import Prices
from reaccord.study.smallest_mass import exact, grams_of, smallest_mass, steps_down, steps_up
from reaccord.study.sums_apart import states_only_sums
from reaccord.tables.doubts import Doubts

MADE = "made"
"""The lot of a stock that would be made for this batch."""
OWN_TO_ROWS = frozenset({"at", "stock_g", "material", "carrier", "lot", "strength"})
"""What rows of one bottle may differ in, or are alike in however it is spelt."""
SLIGHT = 1e-12
"""Relative; nobody can pour a difference this small."""


@dataclass(frozen=True)
class Shelf:
    """What stands there: each bottle with its line, and the carriers of this study.

    `lacking` says of blends without a price which part of theirs has none (`Prices.lacking`).
    """

    bottles: Mapping[StockKey, BottleLine]
    stocks: tuple[Stock, ...]
    set_aside: tuple[SetAside, ...]
    carriers: frozenset[str]
    lacking: Mapping[StockKey, str]


def stock_shelf(
    settled: Reconciled, opener: Opener, wanted: tuple[frozenset[str], frozenset[str]], findings: Findings
) -> Shelf:
    """Turn bottles into stocks and add the dilutions that may be made.

    `wanted` are the constituents the target names, which are no carriers in this study, and all that its rows take in.
    """
    odorants, apart = wanted
    bottles = _bottles(settled, findings)
    contents = {key: _content(key, line, settled, opener, findings) for key, line in bottles.items()}
    carriers = _carriers(settled, opener, odorants, findings)
    prices = Prices(settled, bottles, opener.order)
    builder = _Builder(settled.tables.settings, carriers, prices)
    stocks = {key: builder.stock(key, contents[key], line) for key, line in bottles.items()}
    doubt_dates(bottles, settled.tables.settings.date, findings)
    reasons = set_aside(settled, bottles, stocks, findings)
    reasons |= states_only_sums(settled, bottles.keys() - reasons.keys(), apart, findings)
    prices.say_assumed((key for key in bottles if key not in reasons), findings)
    made = _made(settled, builder, stocks, reasons, findings)
    everything = {**stocks, **made}
    reasons |= _made_aside(made, reasons)
    return Shelf(
        bottles,
        tuple(everything[key] for key in sorted(everything) if key not in reasons),
        tuple(SetAside(everything[key], reasons[key]) for key in sorted(reasons)),
        carriers,
        {key: part for key in bottles if stocks[key].price_per_g is None and (part := prices.lacking(key))},
    )


def _bottles(settled: Reconciled, findings: Findings) -> dict[StockKey, BottleLine]:
    rows: dict[StockKey, list[BottleLine]] = {}
    quiet, doubts = Findings(), Doubts(findings)
    for line in settled.tables.bottles:
        material = settled.materials.find(line.material) or line.material
        key = StockKey(material, line.strength, settled.carrier(line.carrier, line.at, quiet), line.lot)
        if line.lot.casefold() == MADE:
            text = f'a lot cannot be called "{line.lot}": so are the dilutions that are made for the batch.'
            findings.error("reserved-name", text, line.at.at("lot"))
        rows.setdefault(key, []).append(line)
    return {key: _one(lines, settled, doubts, findings) for key, lines in rows.items()}


def _one(lines: list[BottleLine], settled: Reconciled, doubts: Doubts, findings: Findings) -> BottleLine:
    """Return the rows of one bottle as one: vials of it that differ in grams on hand alone are as many grams."""
    first, *others = lines
    if not others:
        return first
    for line in others:
        differs = _differs(first, line, settled)
        if differs and not doubts.row(line.at) and not doubts.row(first.at):
            findings.error(
                "duplicate-bottle",
                f"the same bottle (material, strength, carrier, lot) stands in row {first.at.row} already, "
                f"with another {differs}. Which is right? If both are, give each its lot.",
                line.at.at("material"),
            )
    if any(_differs(first, line, settled) or doubts.row(line.at) for line in lines):
        return first
    grams = [line.stock_g for line in lines]
    together = None if None in grams else float(sum(exact(g) for g in grams if g is not None))
    on_hand = "" if together is None else f", {together:g} g on hand"
    listed = ", ".join(str(line.at.row) for line in lines)
    findings.warn(
        "one-bottle", f"rows {listed} are the same bottle and taken as one{on_hand}.", first.at.at("material")
    )
    return replace(first, stock_g=together)


def _differs(one: BottleLine, other: BottleLine, settled: Reconciled) -> str:
    """Return the first column, grams on hand apart, in which two rows of one bottle differ; blank if none does."""
    for name, said in vars(one).items():
        told = getattr(other, name)
        if name in OWN_TO_ROWS or said == told:
            continue
        known = [settled.names.find(text) for text in (said, told)] if name == "constituent" and said and told else []
        if not known or known[0] is None or known[0] != known[1]:
            return name
    return ""


def _content(key: StockKey, line: BottleLine, settled: Reconciled, opener: Opener, findings: Findings) -> Content:
    if settled.parts.get(settled.analysis(key.material, key.lot)):
        return dilute(opener.material(key.material, key.lot), key.strength, opener.carrier(key.carrier))
    if key.material not in settled.unread:
        near = [m for m in settled.materials.all() if settled.parts.get(m)]
        hint = settled.materials.nearest(key.material, near)
        findings.error(
            "no-composition",
            f'nothing says what "{key.material}" is made of. Give constituent and purity, or add its rows to '
            "the compositions, or the part undeclared with share 100." + did_you_mean(hint),
            line.at.at("material"),
        )
    return Content({}, {}, {key.material: 1.0}, 1.0)


def _carriers(settled: Reconciled, opener: Opener, odorants: frozenset[str], findings: Findings) -> frozenset[str]:
    diluting = opener.diluting()
    settings = settled.tables.settings
    made_with = settled.names.find(settings.dilutions.carrier) if settings.dilutions else None
    for name in sorted(odorants & diluting):
        text, place = "", Place(settings.target.table)
        if made_with and name == made_with.name:
            text, place = " Each dilution made adds to it.", Place(settings.file, column="dilutions.carrier")
        findings.warn(
            "carrier-in-target",
            f"{name} is a carrier, but the target names it: it counts as an odorant in this study.{text}",
            place,
        )
    return diluting - odorants


class _Builder:
    """Gives a stock its limits, its price and its split into odorant and carrier."""

    def __init__(self, settings: Settings, carriers: frozenset[str], prices: Prices) -> None:
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
    settled: Reconciled,
    builder: _Builder,
    stocks: Mapping[StockKey, Stock],
    reasons: Mapping[StockKey, str],
    findings: Findings,
) -> dict[StockKey, Stock]:
    """Return the dilutions that may be made: every material, every strength below its strongest bottle.

    One is made only for what the next stronger stock of the material is too strong to weigh.
    """
    settings = settled.tables.settings
    if settings.dilutions is None:
        return {}
    place = Place(settings.file, column="dilutions.carrier")
    carrier = settled.carrier(settings.dilutions.carrier, place, findings)
    usable = {key: stock for key, stock in stocks.items() if key not in reasons}
    carrier_stock = carrier_bottle(carrier, settled, usable) or carrier_bottle(carrier, settled, stocks)
    if carrier_stock is None:
        findings.error(
            "no-carrier-bottle",
            f"no neat bottle holds {carrier}. Add one to {settings.shelf.bottles}, so that its grams and price count.",
            place,
        )
        return {}
    made: dict[StockKey, Stock] = {}
    for source in _sources(stocks, usable):
        if source.key.material == carrier_stock.key.material or source.active <= 0:
            continue
        stronger, fine = source, _too_fine(settled, source)
        for strength in sorted(settings.dilutions.strengths, reverse=True):
            key = StockKey(source.key.material, strength, carrier, MADE)
            if strength >= source.key.strength:
                continue
            stock = _unlimited_already(key, usable)
            if stock is None:
                times = float(exact(stronger.key.strength) / exact(strength))
                needed_g = math.inf if fine else stronger.minimum_g * times
                stock = _dilution(key, source, carrier_stock, builder, needed_g)
                if stock is not None:
                    made[key] = stock
            stronger = stock or stronger
    return made


def _too_fine(settled: Reconciled, source: Stock) -> bool:
    """Whether an amount is asked of a material that no number of its bottle's steps makes: 1.005 g to 0.01 g."""
    step = exact(source.step_g) * exact(source.key.strength)
    for amount in settled.tables.settings.limits.amounts if step else ():
        if settled.materials.find(amount.material) == source.key.material:
            least = amount.exactly_g if amount.exactly_g is not None else amount.at_least_g or 0.0
            most = amount.exactly_g if amount.exactly_g is not None else amount.at_most_g
            if most is not None and math.ceil(exact(least) / step) * step > exact(most):
                return True
    return False


def _sources(stocks: Mapping[StockKey, Stock], usable: Mapping[StockKey, Stock]) -> list[Stock]:
    """Return the source bottle of each material: usable if one is, the strongest, of those the fullest."""
    best: dict[str, tuple[tuple[bool, float, float], Stock]] = {}
    for key in sorted(stocks):
        rank = (key in usable, key.strength, stocks[key].maximum_g)
        if key.material not in best or rank > best[key.material][0]:
            best[key.material] = rank, stocks[key]
    return [best[name][1] for name in sorted(best)]


def _unlimited_already(key: StockKey, usable: Mapping[StockKey, Stock]) -> Stock | None:
    """Return a bottle that stands there at this strength and never runs out: nothing is made beside it."""
    alike = (stock for other, stock in sorted(usable.items()) if other[:3] == key[:3] and math.isinf(stock.maximum_g))
    return next(alike, None)


def _dilution(key: StockKey, source: Stock, carrier: Stock, builder: _Builder, needed_g: float) -> Stock | None:
    """Return the stock made from `source`, or None if too little is left to weigh its recipe.

    Made grams are the grams used, or the least that can be made with both parts weighable if that is
    more; the source bottle must hold its part of them.
    """
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
