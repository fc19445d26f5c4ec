"""Materials opened into their constituents, and the stocks that can be poured."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple


class StockKey(NamedTuple):
    """What tells one bottle from another."""

    material: str
    strength: float
    carrier: str
    lot: str

    @property
    def subject(self) -> tuple[str, ...]:
        """What a limit on this stock is about."""
        return self.material, f"{self.strength:.12g}", self.carrier, self.lot

    @property
    def label(self) -> str:
        """Name, strength, carrier and lot in one line, for people."""
        material, strength, carrier, lot = self
        text = material
        if strength < 1:
            text += f" {strength * 100:.12g} %" + (f" in {carrier}" if carrier else "")
        return text + (f" ({lot})" if lot else "")


@dataclass(frozen=True)
class Content:
    """What one gram of something holds, in gram.

    `typical` and `high` by constituent (`high` for restricted substances), `materials` the neat mass of
    each material inside, `undeclared` the part that nothing names, `undeclared_high` what that can be where all that is
    named is at its low end.
    """

    typical: Mapping[str, float]
    high: Mapping[str, float]
    materials: Mapping[str, float]
    undeclared: float
    undeclared_high: float


@dataclass(frozen=True)
class Recipe:
    """How a stock is made: gram of the source bottle per gram made, the rest from the carrier's bottle.

    `least_g` is the smallest amount that can be made with both parts weighable. Of more than `needed_g` what is
    in it can be weighed from the next stronger stock, and it is not made.
    """

    source: StockKey
    source_share: float
    carrier: StockKey
    least_g: float
    needed_g: float = math.inf


@dataclass(frozen=True)
class Stock:
    """A bottle, or a dilution that can be made from one (`recipe`).

    Gram throughout: `minimum_g` the least that can be weighed, `maximum_g` what is on hand (infinite when
    unlimited), `step_g` the grid of the balance (0: no grid); both limits lie on the grid already.
    `odorant` is the declared odorant per gram, `active` adds the undeclared part, the rest is carrier.
    `price_per_g` is None where nobody knows.
    """

    key: StockKey
    content: Content
    odorant: float
    active: float
    price_per_g: float | None = None
    minimum_g: float = 0.0
    maximum_g: float = math.inf
    step_g: float = 0.0
    recipe: Recipe | None = None
    solid: bool = False

    @property
    def carrier_share(self) -> float:
        """Gram of carrier per gram of stock."""
        return max(0.0, 1.0 - self.active)

    @property
    def label(self) -> str:
        """Name, strength, carrier and lot in one line, for people."""
        return self.key.label
