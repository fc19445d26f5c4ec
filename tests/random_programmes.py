"""Seeded random programmes: small ones with every kind of limit, and shelves of a realistic make.

`small(seed)` is sized for brute force. `realistic(constituents, bottles, seed, ...)` follows what shelves
look like: mostly single chemicals of imperfect purity, some naturals that share constituents, a price ceiling,
restricted substances, bottles that are nearly empty. All data are invented; the same arguments give the same
programme.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray, LimitRow, Programme
from reaccord.domain.limit_key import LimitKey

FLOOR, FOREIGN_FLOOR = 0.001, 0.05
COST_PER_KG_QUANTILE = 0.6


@dataclass
class Shelf:
    """Columns in the making: `content` (K, n) gram per gram, and what each stock is."""

    content: FloatArray
    undeclared: FloatArray
    price: FloatArray
    minimum: FloatArray
    maximum: FloatArray
    limits: list[LimitRow] = field(default_factory=list)
    strengths: tuple[tuple[tuple[int, ...], ...], ...] = ()

    @property
    def active(self) -> FloatArray:
        """Gram of anything but carrier per gram of stock, shape (n,)."""
        total: FloatArray = self.content.sum(axis=0) + self.undeclared
        return total

    def limit(self, label: str, amounts: FloatArray, most: float, used: FloatArray | None = None) -> None:
        none = np.zeros(self.content.shape[1])
        key, used = LimitKey("restricted", (label,)), none if used is None else used
        self.limits.append(LimitRow(key, label, f"{label} (invented)", amounts, used, most))


def diluted(shelf: Shelf, strengths: tuple[float, ...], minimum: float) -> Shelf:
    """Return the shelf with every stock also at `strengths`, of which one per material may be used."""
    n = shelf.content.shape[1]
    levels = (1.0, *strengths)
    groups = tuple(tuple((level * n + i,) for level in range(len(levels))) for i in range(n))
    return Shelf(
        content=np.hstack([shelf.content * level for level in levels]),
        undeclared=np.concatenate([shelf.undeclared * level for level in levels]),
        price=np.concatenate([shelf.price * level for level in levels]),
        minimum=np.concatenate([shelf.minimum, np.full(n * len(strengths), minimum)]),
        maximum=np.concatenate([shelf.maximum / level for level in levels]),
        strengths=groups,
    )


def stated(shelf: Shelf, share: FloatArray, batch_g: float, unaccounted: float) -> Programme:
    """Return the programme for target shares `share` (K,), by the proportional scale, undeclared row last."""
    named = share > 0
    floor = np.where(named, np.maximum(share, FLOOR), FOREIGN_FLOOR)
    top = unaccounted / (1 - unaccounted)
    columns = tuple(f"stock {i:04d}" for i in range(shelf.content.shape[1]))
    return Programme(
        columns=columns,
        rows=(*(f"row {k:04d}" for k in range(len(share))), "undeclared"),
        content=np.vstack([shelf.content, shelf.undeclared]),
        low=np.append(share, 0.0),
        high=np.append(share, top),
        factor=np.append(floor**-0.5, max(top, FOREIGN_FLOOR) ** -0.5),
        basis=np.asarray(shelf.content[named].sum(axis=0)),
        batch_g=batch_g,
        minimum=shelf.minimum,
        maximum=shelf.maximum,
        limits=tuple(shelf.limits),
        strengths=shelf.strengths,
    )


def target(rng: np.random.Generator, constituents: int, count: int, sigma: float = 1.6) -> FloatArray:
    """Return log-normal shares (sum 1) on `count` of the constituents, 0 elsewhere."""
    share = np.zeros(constituents)
    share[rng.choice(constituents, count, replace=False)] = rng.lognormal(0.0, sigma, count)
    shares: FloatArray = share / share.sum()
    return shares


def bottles(rng: np.random.Generator, share: FloatArray, count: int, natural: float = 0.25) -> Shelf:
    """Return `count` bottles: singles with impurities and a part `natural` of naturals.

    A quarter of the constituents has no pure source, as it is drawn; never all of them.
    """
    constituents = len(share)
    content = np.zeros((constituents, count))
    pure = np.flatnonzero(rng.random(constituents) > 0.25)
    pure = pure if len(pure) else np.arange(constituents)  # of few, none at all may be drawn
    naturals = round(natural * count)
    popularity = rng.lognormal(0.0, 1.0, constituents) * np.where(share > 0, 3.0, 1.0)
    likely = popularity / popularity.sum()
    wanted = pure[np.argsort(-share[pure], kind="stable")]
    for i in range(count - naturals):
        own = int(wanted[i]) if i < len(wanted) else int(rng.choice(pure))
        purity = rng.uniform(0.9, 0.999)
        content[own, i] = purity
        others = rng.choice(constituents, int(rng.integers(0, 4)), replace=False)
        content[others, i] += (1 - purity) * rng.dirichlet(np.ones(len(others) + 1))[: len(others)]
    for i in range(count - naturals, count):
        size = min(int(rng.integers(6, 41)), constituents)
        parts = rng.choice(constituents, size, replace=False, p=likely)
        amounts = rng.lognormal(0.0, 1.8, size)
        content[parts, i] = rng.uniform(0.85, 1.0) * amounts / amounts.sum()
    return Shelf(
        content=content,
        undeclared=np.maximum(0.0, 1.0 - content.sum(axis=0)),
        price=rng.lognormal(4.0, 1.2, count),
        minimum=np.zeros(count),
        maximum=np.full(count, np.inf),
    )


def realistic(
    constituents: int,
    count: int,
    seed: int,
    lines: int | None = None,
    strengths: tuple[float, ...] = (),
    batch_g: float = 10.0,
) -> Programme:
    """Return a shelf of `count` bottles over `constituents`, optionally with a lines limit and dilutions.

    Minimum 0.2 % of the batch, a tenth of the bottles nearly empty, price ceiling at the 60 % quantile, two
    restricted substances, a carrier cap of 1.5 times the batch, at most 10 % undeclared.
    """
    rng = np.random.default_rng((20261125, constituents, count, seed))
    named = min(int(rng.integers(40, 81)), round(0.7 * constituents))
    share = target(rng, constituents, named)
    shelf = bottles(rng, share, count)
    shelf.minimum = np.full(count, 0.002 * batch_g)
    nearly_empty = rng.random(count) < 0.1
    shelf.maximum = np.where(nearly_empty, rng.uniform(0.005, 0.03, count) * batch_g, np.inf)
    price_ceiling = float(np.quantile(shelf.price, COST_PER_KG_QUANTILE))
    if strengths:
        shelf = diluted(shelf, strengths, 0.002 * batch_g)
    active = shelf.active
    shelf.limit("cost", (shelf.price - price_ceiling * active) / 1000, 0.0)
    shelf.limit("carrier", 1.0 - active, 1.5 * batch_g)
    shelf.limit("undeclared", shelf.undeclared - 0.1 * active, 0.0)
    for k in rng.choice(np.flatnonzero(share > 0), 2, replace=False):
        shelf.limit(f"restricted {k}", shelf.content[k] - 0.7 * share[k] * active, 0.0)
    if lines is not None:
        shelf.limit("lines", np.zeros(len(active)), float(lines), used=np.ones(len(active)))
    return stated(shelf, share, batch_g, unaccounted=0.02)


def small(seed: int) -> Programme:
    """Return a programme of 4 to 9 columns; which limits it has is drawn, every kind occurs often."""
    rng = np.random.default_rng((7, seed))
    constituents = int(rng.integers(4, 13))
    batch_g = float(rng.choice([0.5, 10.0, 1000.0]))
    share = target(rng, constituents, max(2, round(0.7 * constituents)), sigma=1.2)
    with_strengths = rng.random() < 0.4
    count = int(rng.integers(3, 5)) if with_strengths else int(rng.integers(4, 10))
    shelf = bottles(rng, share, count, natural=0.5)
    shelf.minimum = _minima(rng, count, batch_g)
    shelf.maximum = np.where(rng.random(count) < 0.4, rng.uniform(0.02, 0.6, count) * batch_g, np.inf)
    if with_strengths:
        shelf = diluted(shelf, (0.1,), float(rng.choice([0.0, 0.02])) * batch_g)
    _draw_limits(rng, shelf, share, batch_g)
    programme = stated(shelf, share, batch_g, unaccounted=float(rng.choice([0.0, 0.05])))
    if with_strengths and rng.random() < 0.3:
        programme = replace(programme, strengths=_two_lots(programme.strengths))
    return _with_bands(rng, programme) if rng.random() < 0.5 else programme


def banded(seed: int) -> Programme:
    """Return a programme as `small` gives it, most of its rows bands: wide and narrow, from 0, undeclared mass too."""
    programme = small(seed)
    rng = np.random.default_rng((8, seed))
    count = len(programme.rows)
    opened = rng.random(count) < rng.choice([0.5, 0.8, 1.0])
    lower = rng.choice([0.0, 1.0, 0.5, 0.9], count) * programme.low
    upper = programme.high * rng.uniform(1.0, 2.5, count) + rng.choice([0.0, 0.02, 0.1], count)
    low = np.where(opened, lower, programme.low)
    return replace(programme, low=low, high=np.where(opened, np.minimum(upper, 1.0), programme.high))


def _two_lots(
    strengths: tuple[tuple[tuple[int, ...], ...], ...],
) -> tuple[tuple[tuple[int, ...], ...], ...]:
    """Return the strengths with the first two materials made two lots of one."""
    first, second, *rest = strengths
    return (tuple(a + b for a, b in zip(first, second, strict=True)), *rest)


def _minima(rng: np.random.Generator, count: int, batch_g: float) -> FloatArray:
    kind = rng.random()
    if kind < 0.15:
        return np.zeros(count)
    minima: FloatArray = rng.uniform(0.01, 0.25, count) * batch_g
    minima[rng.random(count) < 0.15] = 0.0
    return minima


def _draw_limits(rng: np.random.Generator, shelf: Shelf, share: FloatArray, batch_g: float) -> None:
    """Add a random choice of limits to the shelf."""
    active, n = shelf.active, shelf.content.shape[1]
    if rng.random() < 0.4:
        ceiling = float(np.quantile(shelf.price / np.maximum(active, 1e-9), rng.uniform(0.2, 0.8)))
        shelf.limit("cost", (shelf.price - ceiling * active) / 1000, 0.0)
    if rng.random() < 0.4 or shelf.strengths:
        shelf.limit("carrier", 1.0 - active, float(rng.uniform(0.1, 1.5)) * batch_g)
    if rng.random() < 0.3:
        shelf.limit("undeclared", shelf.undeclared - rng.uniform(0.01, 0.1) * active, 0.0)
    if rng.random() < 0.4:
        k = int(rng.integers(len(share)))
        dosage = 10.0 ** rng.uniform(-4, 0)
        ceiling = rng.uniform(0.3, 1.5) * max(share[k], 0.01)
        shelf.limit("restricted", dosage * (shelf.content[k] - ceiling * active), 0.0)
    if rng.random() < 0.4:
        shelf.limit("lines", np.zeros(n), float(rng.integers(1, 5)), used=np.ones(n))
    if rng.random() < 0.3:
        _draw_amount(rng, shelf, batch_g)


def _draw_amount(rng: np.random.Generator, shelf: Shelf, batch_g: float) -> None:
    """Add an amount at least, at most or exactly, over one stock or a few."""
    chosen: NDArray[np.bool_] = rng.random(shelf.content.shape[1]) < 0.3
    amounts = np.where(chosen, shelf.active, 0.0)
    grams = float(rng.uniform(0.05, 0.4)) * batch_g
    kind = str(rng.choice(["at least", "at most", "exactly"]))
    if kind != "at least":
        shelf.limit(kind, amounts, grams)
    if kind != "at most":
        shelf.limit(kind, -amounts, -grams)


def _with_bands(rng: np.random.Generator, programme: Programme) -> Programme:
    """Return the programme with a third of its rows opened into bands."""
    opened = rng.random(len(programme.rows)) < 0.33
    low = np.where(opened, programme.low * rng.uniform(0.3, 1.0, len(opened)), programme.low)
    wider = np.minimum(1.0, programme.high * rng.uniform(1.0, 2.0, len(opened)))
    high = np.where(opened, wider, programme.high)
    return replace(programme, low=low, high=high)
