"""What a gram of each stock costs. Money is whatever the tables use."""

from __future__ import annotations

from collections.abc import Mapping

from reaccord.domain.lines import BottleLine
from reaccord.domain.stock import StockKey
from reaccord.materials import Part, Reconciled

UNPRICED_REST = 0.02
"""A blend may leave this much of itself undeclared and still cost its parts."""


class Prices:
    """Looks prices up in the bottles; a blend without a price costs its parts (model.md)."""

    def __init__(self, settled: Reconciled, bottles: Mapping[StockKey, BottleLine]) -> None:
        self._settled = settled
        self._bottles = bottles
        self._path: set[str] = set()

    def bottle(self, key: StockKey) -> float | None:
        """Return the price of one gram as in the bottle, or None if nobody knows."""
        line = self._bottles[key]
        if line.price_per_kg is not None:
            return line.price_per_kg / 1000
        return self._diluted(self._blend(key.material), key.strength, key.carrier)

    def _diluted(self, neat: float | None, strength: float, carrier: str) -> float | None:
        if strength >= 1 or neat is None:
            return neat
        price = self._carrier(carrier)
        return None if price is None else strength * neat + (1 - strength) * price

    def _carrier(self, carrier: str) -> float | None:
        """Return the price per gram of a carrier: its cheapest neat bottle."""
        prices = [
            line.price_per_kg / 1000
            for key, line in self._bottles.items()
            if key.strength == 1 and line.price_per_kg is not None and self._settled.is_bottle_of(key.material, carrier)
        ]
        return min(prices, default=None)

    def _blend(self, material: str) -> float | None:
        parts = self._settled.parts.get(material, [])
        if material in self._path or all(part.kind != "material" for part in parts):
            return None
        if 1 - sum(part.share for part in parts) > UNPRICED_REST:
            return None
        self._path.add(material)
        prices = [self._part(part) for part in parts]
        self._path.discard(material)
        if any(price is None for price in prices):
            return None
        return sum(part.share * (price or 0.0) for part, price in zip(parts, prices, strict=True))

    def _part(self, part: Part) -> float | None:
        if part.kind == "undeclared":
            return 0.0 if part.share <= UNPRICED_REST else None
        if part.kind == "constituent":
            return self._carrier(part.name)
        return self._diluted(self._neat(part.name), part.strength, part.carrier)

    def _neat(self, material: str) -> float | None:
        """Return the price of neat material from its strongest priced bottle, the dearest lot of it."""
        priced = [
            (key.strength, line.price_per_kg / 1000, key.carrier)
            for key, line in self._bottles.items()
            if key.material == material and line.price_per_kg is not None
        ]
        if not priced:
            return self._blend(material)
        strength, price, carrier = max(priced)
        if strength >= 1:
            return price
        of_carrier = self._carrier(carrier) or 0.0
        return (price - (1 - strength) * of_carrier) / strength
