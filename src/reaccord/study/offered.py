"""Bottles that could be bought, beside those on the shelf: a study of both, and which of its bottles are offered."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from reaccord.domain.lines import BottleLine, Pack
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import Findings, Place
from reaccord.names.key import name_key
from reaccord.study.assemble import assemble
from reaccord.study.settle import settle

LOT = "to buy"
"""The lot of a bottle that is not there yet, where the catalogue says none or one that stands on the shelf."""
NEARLY_PURE = 0.8
"""Of what a bottle holds beside carrier: a constituent with so much of it in one bottle can be had as such."""


@dataclass(frozen=True)
class Offer:
    """A bottle that could be bought; `price` is that of its smallest pack, None where nobody knows.

    `priced`: what a gram of it costs is known, and counted under a limit of cost. `aside` says why it must not be
    poured in this study, blank where it may.
    """

    key: StockKey
    label: str
    pack_g: float | None = None
    price: float | None = None
    priced: bool = False
    aside: str = ""


@dataclass(frozen=True)
class Offered:
    """`study` has the shelf and everything offered; `shelf` is the study without them."""

    study: Study
    shelf: Study
    offers: tuple[Offer, ...]


def offered(study: Study, catalogue: Sequence[Pack] = ()) -> Offered:
    """Return the study with a catalogue beside its shelf, and with each missing constituent as a pure chemical.

    It is settled anew from `study.tables` and its present settings. A bottle of a blank `stock_g` can be bought in any
    amount. A pure chemical has no price and counts as free under a limit of cost.

    Raises
    ------
    InvalidInput
        With every error of the catalogue.
    """
    packs = [*_smallest(catalogue), *_pure(study, catalogue)]
    there = {(name_key(key.material), name_key(key.lot)) for key in (bottle.key for bottle in study.settled.bottles)}
    lines = [_to_buy(pack.bottle, there) for pack in packs]
    tables = replace(study.tables, settings=study.settings, bottles=(*study.tables.bottles, *lines))
    findings = Findings()
    both = assemble(tables, settle(tables, findings), study.settings, findings)
    catalogued = {pack.bottle.at.file for pack in catalogue}
    known = set(study.warnings)
    new = tuple(w for w in both.warnings if w not in known and w.place.file in catalogued)
    by_place = {line.at: pack for line, pack in zip(lines, packs, strict=True)}
    reasons = {item.stock.key: item.reason for item in both.set_aside}
    on_shelf = {bottle.key for bottle in study.settled.bottles}
    offers = [
        Offer(
            bottle.key,
            bottle.key.material if bottle.key.lot == LOT else _label(bottle.key),
            by_place[bottle.line.at].grams,
            by_place[bottle.line.at].price,
            bottle.price.per_g is not None and bottle.line.at.file != LOT,
            reasons.get(bottle.key, ""),
        )
        for bottle in both.settled.bottles
        if bottle.key not in on_shelf
    ]
    both = replace(both, inputs=study.inputs, warnings=(*study.warnings, *new))
    return Offered(both, study, tuple(sorted(offers, key=lambda offer: offer.key)))


def _label(key: StockKey) -> str:
    strength = f" {key.strength * 100:.12g} %" if key.strength < 1 else ""
    return f"{key.material}{strength} ({key.lot})"


def _smallest(catalogue: Iterable[Pack]) -> list[Pack]:
    """Return of each bottle the pack that costs least."""
    found: dict[tuple[str, float, str, str], Pack] = {}
    for pack in catalogue:
        line = pack.bottle
        key = (name_key(line.material), line.strength, name_key(line.carrier), name_key(line.lot))
        if key not in found or _paid(pack) < _paid(found[key]):
            found[key] = pack
    return list(found.values())


def _paid(pack: Pack) -> tuple[float, float]:
    price = math.inf if pack.price is None else pack.price
    return price, math.inf if pack.grams is None else pack.grams


def _to_buy(line: BottleLine, there: set[tuple[str, str]]) -> BottleLine:
    """Return a line that is no bottle of the shelf: its lot tells them apart."""
    taken = (name_key(line.material), name_key(line.lot)) in there
    return line._replace(lot=f"{line.lot}, {LOT}" if taken and line.lot else line.lot or LOT)


def _pure(study: Study, catalogue: Iterable[Pack]) -> list[Pack]:
    """Return each constituent of the target that no bottle holds nearly pure, as a pure chemical."""
    materials = {name_key(line.material) for line in study.tables.bottles}
    materials |= {name_key(line.material) for line in study.tables.compositions}
    # of several in one row none may be called as a material
    materials |= {name_key(name) for entry in study.settled.target if len(entry.own) > 1 for name in entry.own}
    had = {name_key(pack.bottle.constituent or pack.bottle.material) for pack in catalogue}
    had |= {name_key(name) for name in _on_the_shelf(study)}
    named = sorted({name for row in study.target.rows if row.kind == "named" for name in row.members})
    asked = {name for entry in study.settled.target for name in entry.own}
    found = []
    for number, name in enumerate((name for name in named if name in asked and name_key(name) not in had), start=1):
        called = f"{name} (pure)" if name_key(name) in materials else name  # a material of that name is something else
        line = BottleLine(Place(LOT, number), called, constituent=name, purity=1.0, price_per_kg=0.0)
        found.append(Pack(line))
    return found


def _on_the_shelf(study: Study) -> set[str]:
    """Return the constituents that a bottle holds nearly pure, those of bottles left out on purpose among them."""
    usable = {stock.key for stock in study.stocks}
    usable |= {item.stock.key for item in study.set_aside if item.reason == "excluded"}
    found = set()
    for bottle in study.settled.bottles:
        held = {name: x for name, x in bottle.content.typical.items() if name not in study.carriers}
        whole = sum(held.values()) + bottle.content.undeclared
        found |= {name for name, x in held.items() if bottle.key in usable and x >= NEARLY_PURE * whole}
    return found
