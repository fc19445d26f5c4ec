"""What a gram of each stock costs. Money is whatever the tables use."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from reaccord.domain.lines import BottleLine
from reaccord.domain.settled import Part, Price
from reaccord.domain.stock import StockKey

MOST_UNDECLARED = 0.05
"""Of a blend. The declared parts speak for so little; what nobody declares of more may be worth anything."""


def for_want_of(lacking: str) -> str:
    """Return the sentence that says why a blend has no price, with the blank before it; nothing for what is none."""
    return f" (As a blend it would cost its parts, but one has no price: {lacking}.)" if lacking else ""


class Prices:
    """Looks prices up in the bottles; a blend without a price costs its parts.

    A part costs what the shelf asks for what is neat in it. A little that nobody declares of a blend costs as much
    as the rest of it: the price of the declared parts is scaled to 100 %, and `Price.assumed` says so; a blend with
    more has no price. An analysis of constituents is no recipe.
    `stands_for` is by material, `parts` by whose analysis it is, `order` is all of these, what one holds before it.
    """

    def __init__(
        self,
        bottles: Mapping[StockKey, BottleLine],
        parts: Mapping[str, Sequence[Part]],
        stands_for: Mapping[str, frozenset[str]],
        order: Iterable[str],
    ) -> None:
        self._parts = parts
        self._stands_for = stands_for
        self._lines = bottles
        self._priced: dict[str, list[tuple[float, float, str]]] = {}
        for key, line in bottles.items():
            if line.price_per_kg is not None:
                found = (key.strength, line.price_per_kg / 1000, key.carrier)
                self._priced.setdefault(key.material, []).append(found)
        self._neat: dict[str, float | None] = {}
        self._of_substance: dict[str, float | None] = {}
        self._blends: dict[str, float | None] = {}
        self._lacking: dict[str, str] = {}
        self._assumed: dict[str, float] = {}
        for material in order:
            self._blends[material] = self._blend(material)
            self._neat[material] = self._neat_price(material)

    def of(self, key: StockKey, analysis: str) -> Price:
        """Return what one gram costs as in the bottle; of a blend without a price, why or with what assumed."""
        line = self._lines[key]
        if line.price_per_kg is not None:
            return Price(line.price_per_kg / 1000)
        price = self._diluted(self._blends.get(analysis), key.strength, key.carrier)
        if price is not None:
            return Price(price, assumed=self._assumed.get(analysis, 0.0))
        return Price(lacking=self._lacking.get(analysis, "") if self._blends.get(analysis) is None else key.carrier)

    def _diluted(self, neat: float | None, strength: float, carrier: str) -> float | None:
        if strength >= 1 or neat is None:
            return neat
        price = self._substance(carrier)
        return None if price is None else strength * neat + (1 - strength) * price

    def _substance(self, name: str) -> float | None:
        """Return the price per gram of a substance: its cheapest neat bottle, else what is neat in its dilutions."""
        if name not in self._of_substance:
            self._of_substance[name] = None  # nothing is diluted in itself
            bottles = [
                bottle
                for material, found in self._priced.items()
                for bottle in found
                if name in self._stands_for[material]
            ]
            neat = [price for strength, price, _ in bottles if strength == 1]
            self._of_substance[name] = min(neat or map(self._undiluted, bottles), default=None)
        return self._of_substance[name]

    def _undiluted(self, bottle: tuple[float, float, str]) -> float:
        """Return the price of a gram of what a dilution holds; a carrier without a price takes no part of it."""
        strength, price, carrier = bottle
        if strength >= 1:
            return price
        of_carrier = self._substance(carrier) or 0.0
        return max(0.0, (price - (1 - strength) * of_carrier) / strength)

    def _blend(self, material: str) -> float | None:
        parts = [part for part in self._parts.get(material, ()) if part.kind != "undeclared" and part.share > 0]
        if all(part.kind != "material" for part in parts):
            return None
        prices = {part: self._part(part) for part in parts}
        for part, price in prices.items():
            if price is None:
                self._lacking[material] = self._want(part)
                return None
        declared = sum(part.share for part in parts)
        if 1 - declared > MOST_UNDECLARED + 1e-9:
            self._lacking[material] = f"what nobody declares, {(1 - declared) * 100:.4g} %"
            return None
        self._assumed[material] = 1 - declared + sum(part.share * self._assumed_of(part) for part in parts)
        return sum(part.share * (price or 0.0) for part, price in prices.items()) / declared

    def _part(self, part: Part) -> float | None:
        if part.kind == "constituent":
            return self._substance(part.name)
        same = [p for s, p, c in self._priced.get(part.name, []) if (s, c) == (part.strength, part.carrier)]
        return max(same) if same else self._diluted(self._neat.get(part.name), part.strength, part.carrier)

    def _assumed_of(self, part: Part) -> float:
        return 0.0 if part.kind == "constituent" or self._priced.get(part.name) else self._assumed.get(part.name, 0.0)

    def _want(self, part: Part) -> str:
        """Return what lacks a price in a part that has none."""
        if part.kind == "material" and self._neat.get(part.name) is not None:
            return part.carrier
        inner = self._lacking.get(part.name) if part.kind == "material" else ""
        return f"{inner}, in {part.name}" if inner else part.name

    def _neat_price(self, material: str) -> float | None:
        """Return the price of neat material from its strongest priced bottle, the dearest lot of it."""
        priced = self._priced.get(material)
        return self._undiluted(max(priced)) if priced else self._blends[material]
