"""What a gram of each stock costs. Money is whatever the tables use."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from reaccord.domain.lines import BottleLine
from reaccord.domain.stock import StockKey
from reaccord.materials import Part, Reconciled

UNPRICED_REST = 0.02
"""A blend may leave this much of itself undeclared and still cost its parts."""


class Prices:
    """Looks prices up in the bottles; a blend without a price costs its parts (model.md).

    `order` is every material, what it holds coming before it.
    """

    def __init__(self, settled: Reconciled, bottles: Mapping[StockKey, BottleLine], order: Iterable[str]) -> None:
        self._settled = settled
        self._priced: dict[str, list[tuple[float, float, str]]] = {}
        for key, line in bottles.items():
            if line.price_per_kg is not None:
                found = (key.strength, line.price_per_kg / 1000, key.carrier)
                self._priced.setdefault(key.material, []).append(found)
        self._lines = bottles
        self._neat: dict[str, float | None] = {}
        self._of_substance: dict[str, float | None] = {}
        self._blends: dict[str, float | None] = {}
        for material in order:
            self._blends[material] = self._blend(material)
            self._neat[material] = self._neat_price(material)

    def bottle(self, key: StockKey) -> float | None:
        """Return the price of one gram as in the bottle, or None if nobody knows."""
        line = self._lines[key]
        if line.price_per_kg is not None:
            return line.price_per_kg / 1000
        return self._diluted(self._blends.get(key.material), key.strength, key.carrier)

    def _diluted(self, neat: float | None, strength: float, carrier: str) -> float | None:
        if strength >= 1 or neat is None:
            return neat
        price = self._substance(carrier)
        return None if price is None else strength * neat + (1 - strength) * price

    def _substance(self, name: str) -> float | None:
        """Return the price per gram of a substance: its cheapest neat bottle."""
        if name not in self._of_substance:
            prices = [
                price
                for material, found in self._priced.items()
                for strength, price, _ in found
                if strength == 1 and self._settled.is_bottle_of(material, name)
            ]
            self._of_substance[name] = min(prices, default=None)
        return self._of_substance[name]

    def _blend(self, material: str) -> float | None:
        parts = self._settled.parts.get(material, [])
        if all(part.kind != "material" for part in parts):
            return None
        if 1 - sum(part.share for part in parts) > UNPRICED_REST + 1e-9:
            return None
        prices = [self._part(part) for part in parts]
        if any(price is None for price in prices):
            return None
        return sum(part.share * (price or 0.0) for part, price in zip(parts, prices, strict=True))

    def _part(self, part: Part) -> float | None:
        if part.kind == "undeclared":
            return 0.0 if part.share <= UNPRICED_REST else None
        if part.kind == "constituent":
            return self._substance(part.name)
        return self._diluted(self._neat.get(part.name), part.strength, part.carrier)

    def _neat_price(self, material: str) -> float | None:
        """Return the price of neat material from its strongest priced bottle, the dearest lot of it."""
        priced = self._priced.get(material)
        if not priced:
            return self._blends[material]
        strength, price, carrier = max(priced)
        if strength >= 1:
            return price
        of_carrier = self._substance(carrier) or 0.0
        return max(0.0, (price - (1 - strength) * of_carrier) / strength)
