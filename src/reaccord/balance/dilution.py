"""How a dilution is made: gram of material and carrier on this balance, in one step or one after another.

The strength `c` made of `m` gram of material and `k` gram of carrier, each weighed with the standard deviation `s`, is
off by the relative standard deviation `(1 - c) sqrt((s / m)^2 + (s / k)^2)` (propagation of errors through
`c = m / (m + k)`); of steps one after another the squares add up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from reaccord.domain.settings import BalanceSettings
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.study.smallest_mass import exact, grams_of, repeatability, steps_up

MOST_LEFT_G = 10.0
"""More than this is not made for nothing where a dilution between makes less do (common practice, no source)."""
MOST_BETWEEN = 3
"""Dilutions between the bottle and the weakest that are thought of."""


@dataclass(frozen=True)
class Making:
    """One dilution to make, in the order of the bench.

    Gram throughout: `material_g` of `source` (a bottle, or a dilution made before) and `carrier_g` of `carrier`;
    `poured_g` goes into the formula, `taken_g` into the next dilution. `reached` is the strength that the grams on the
    balance make, `error` the relative standard deviation of it (None: no balance).
    """

    key: StockKey
    source: StockKey
    carrier: StockKey
    material_g: float
    carrier_g: float
    poured_g: float
    taken_g: float
    reached: float
    error: float | None

    @property
    def made_g(self) -> float:
        """Gram that there are of it at first."""
        return self.material_g + self.carrier_g

    @property
    def left_g(self) -> float:
        """Gram that are left over."""
        return max(0.0, self.made_g - self.poured_g - self.taken_g)


def stocks_to_make(study: Study, poured: Mapping[StockKey, float]) -> tuple[Making, ...]:
    """Return the dilutions to make for what is poured, gram by stock, with the least use of each source bottle."""
    known = {s.key: s for s in study.every_stock}
    of_source: dict[StockKey, list[Stock]] = {}
    for key in sorted(key for key, grams in poured.items() if grams > 0 and known[key].recipe is not None):
        recipe = known[key].recipe
        assert recipe is not None
        of_source.setdefault(recipe.source, []).append(known[key])
    found: list[Making] = []
    for source, stocks in sorted(of_source.items()):
        recipe = stocks[0].recipe
        assert recipe is not None
        asked = {stock.key.strength: poured[stock.key] for stock in stocks}
        bench = _Bench(study.settings.balance, known[source], known[recipe.carrier], stocks[0])
        between = study.settings.dilutions.strengths if study.settings.dilutions else ()
        found += _best(bench, asked, between)
    return tuple(found)


@dataclass(frozen=True)
class _Bench:
    """A source bottle, the carrier's bottle, and any dilution of the two for the grid and minimum of one."""

    balance: BalanceSettings | None
    source: Stock
    carrier: Stock
    made: Stock

    def chain(self, strengths: Sequence[float], asked: Mapping[float, float]) -> tuple[Making, ...]:
        """Return how to make dilutions of falling strength, each from the one before."""
        amounts: list[tuple[float, float, float]] = []
        taken = 0.0
        for place in range(len(strengths) - 1, -1, -1):
            above = self.source if place == 0 else self.made
            share = self._share(strengths, place)
            needed = asked.get(strengths[place], 0.0) + taken
            material, carrier = self._weighed(above, share, needed)
            amounts.append((material, carrier, taken))
            taken = material
        return tuple(self._made(strengths, asked, amounts[::-1]))

    def _share(self, strengths: Sequence[float], place: int) -> float:
        above = self.source.key.strength if place == 0 else strengths[place - 1]
        return float(exact(strengths[place]) / exact(above))

    def _weighed(self, above: Stock, share: float, needed: float) -> tuple[float, float]:
        """Return gram of material and carrier, on their grids, that make at least what is needed."""
        least = max(needed * share, above.minimum_g, self.carrier.minimum_g * share / (1 - share))
        material = _up(least, above.step_g)
        carrier, step = material * (1 - share) / share, self.carrier.step_g
        if step > 0:
            carrier = grams_of(math.floor(carrier / step + 0.5), step)
        least = max(self.carrier.minimum_g, needed - material)
        return material, carrier if carrier >= least else _up(least, step)

    def _made(
        self, strengths: Sequence[float], asked: Mapping[float, float], amounts: Sequence[tuple[float, float, float]]
    ) -> Iterator[Making]:
        above, reached, squares = self.source.key, self.source.key.strength, 0.0
        for strength, (material, carrier, taken) in zip(strengths, amounts, strict=True):
            share = material / (material + carrier)
            reached *= share
            error = None
            if self.balance is not None:
                squares += (1 - share) ** 2 * sum((repeatability(self.balance) / g) ** 2 for g in (material, carrier))
                error = math.sqrt(squares)
            key = self.made.key._replace(strength=strength)
            poured = asked.get(strength, 0.0)
            yield Making(key, above, self.carrier.key, material, carrier, poured, taken, reached, error)
            above = key


def _up(grams: float, step: float) -> float:
    return grams_of(steps_up(grams, step), step) if step > 0 else grams


def _best(bench: _Bench, asked: Mapping[float, float], between: Iterable[float]) -> tuple[Making, ...]:
    """Return the chain that takes least of the source bottle; of those one step, unless that makes far too much."""
    strongest, weakest = bench.source.key.strength, min(asked)
    free = sorted({s for s in between if weakest < s < strongest} - asked.keys(), reverse=True)
    ways = [
        bench.chain(sorted({*asked, *more}, reverse=True), asked)
        for count in range(min(len(free), MOST_BETWEEN) + 1)
        for more in combinations(free, count)
    ]

    def rank(way: tuple[Making, ...]) -> tuple[float, ...]:
        carrier, left = math.fsum(made.carrier_g for made in way), math.fsum(made.left_g for made in way)
        over = way[0].material_g > bench.source.maximum_g or carrier > bench.carrier.maximum_g
        much = left > MOST_LEFT_G
        return over, round(way[0].material_g, 9), much, carrier if much else len(way), carrier

    return min(ways, key=rank)
