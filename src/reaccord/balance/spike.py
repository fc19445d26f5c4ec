"""A weighed spike that multiplies one constituent's share in a part of a base batch.

With `held` gram of the constituent and `basis` gram of the basis in the base, and a stock of which one gram holds
`content` of it and `basis` of the basis, `s` gram of the stock make the share

    share(s) = (held + content s) / (basis + basis_of_stock s),

so the wanted share takes `s = (share basis - held) / (content - share basis_of_stock)`. If the stock holds nothing
else of the basis, all other ratios stay. A stock that is itself no richer than the wanted share never gets there.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from reaccord.domain.stock import Stock
from reaccord.domain.study import Study
from reaccord.study.smallest_mass import grams_of, steps_up


@dataclass(frozen=True)
class Portion:
    """Gram of a constituent and of the basis, in a base or in one gram of a stock."""

    held: float
    basis: float

    @property
    def share(self) -> float:
        """Share of the basis; 0 where there is no basis."""
        return self.held / self.basis if self.basis > 0 else 0.0

    def times(self, grams: float) -> Portion:
        """Return so many times as much."""
        return Portion(self.held * grams, self.basis * grams)

    def plus(self, other: Portion) -> Portion:
        """Return both together."""
        return Portion(self.held + other.held, self.basis + other.basis)


def portion_of(study: Study, stock: Stock, members: Collection[str]) -> Portion:
    """Return what one gram of a stock holds of some constituents and of the study's basis."""
    typical = stock.content.typical
    held = math.fsum(typical.get(name, 0.0) for name in sorted(members))
    if study.target.rest == "open":
        return Portion(held, stock.odorant)
    named = sorted(name for row in study.target.rows if row.kind == "named" for name in row.members)
    return Portion(held, math.fsum(typical.get(name, 0.0) for name in named))


def spike_grams(base: Portion, stock: Portion, share: float) -> float | None:
    """Return the gram of a stock that brings a base to `share`; None if the stock is no richer than that."""
    room = stock.held - share * stock.basis
    if room <= 1e-12 * stock.held:
        return None
    return max(0.0, (share * base.basis - base.held) / room)


def best_stocks(study: Study, members: Collection[str]) -> tuple[Stock, ...]:
    """Return the stocks of the material that brings least besides the constituent, strongest first.

    Of materials equally pure the cheapest per gram of the constituent, then the first by name.
    """
    ranks: dict[str, tuple[float, float, str]] = {}
    holding: dict[str, list[Stock]] = {}
    for stock in study.stocks:
        held = portion_of(study, stock, members).held
        if held <= 0 or stock.active <= 0:
            continue
        price = math.inf if stock.price_per_g is None else stock.price_per_g / held
        rank = (-round(held / stock.active, 12), price, stock.key.material)
        ranks[stock.key.material] = min(rank, ranks.get(stock.key.material, rank))
        holding.setdefault(stock.key.material, []).append(stock)
    if not ranks:
        return ()
    best = min(ranks.values())[2]
    return tuple(sorted(holding[best], key=lambda stock: (-stock.key.strength, stock.recipe is not None, stock.key)))


def on_its_grid(stock: Stock, grams: float) -> float:
    """Return the nearest pourable amount, half steps upwards."""
    if stock.step_g <= 0:
        return grams
    return grams_of(math.floor(grams / stock.step_g + 0.5), stock.step_g)


def weighable(stock: Stock, grams: float) -> bool:
    """Whether a spike of so many grams can be weighed once it is rounded to the grid."""
    rounded = on_its_grid(stock, grams)
    return rounded > 0 and rounded >= stock.minimum_g * (1 - 1e-9)


def smallest_vial(stock: Stock, grams: float, base_g: float, step: float) -> float | None:
    """Return the least base at which a spike, `grams` for `base_g`, is weighable; None where any base will do."""
    if grams <= 0 or stock.minimum_g <= 0:
        return None
    least = base_g * stock.minimum_g / grams
    return grams_of(steps_up(least, step), step) if step > 0 else least


def solvent_for(vials: Mapping[str, tuple[float, float]], least_g: float, step: float) -> dict[str, float]:
    """Return the gram of carrier each vial needs so that all have one carrier-free concentration.

    `vials` are (gram, gram without carrier). Where a vial needs any, every vial gets at least `least_g`, so that
    each can be weighed; nothing where they are alike already.
    """
    shares = [active / gram for gram, active in vials.values()]
    if not vials or max(shares) - min(shares) <= 1e-9 * max(shares):
        return dict.fromkeys(vials, 0.0)
    common = min(active / (gram + least_g) for gram, active in vials.values())
    found = {code: max(0.0, active / common - gram) for code, (gram, active) in vials.items()}
    if step <= 0:
        return found
    return {code: grams_of(math.floor(grams / step + 0.5), step) for code, grams in found.items()}


def brought(stock: Stock, grams: float, members: Iterable[str]) -> dict[str, float]:
    """Return the gram of everything a spike brings besides the constituent; `undeclared` too."""
    wanted = set(members)
    found = {name: grams * held for name, held in stock.content.typical.items() if name not in wanted and held > 0}
    if stock.content.undeclared > 1e-12:
        found["undeclared"] = grams * stock.content.undeclared
    return dict(sorted(found.items(), key=lambda item: (-item[1], item[0])))
