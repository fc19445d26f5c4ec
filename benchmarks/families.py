"""Seeded families of programmes to measure with; all data are invented, the same arguments give the same programme."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from benchmarks.bands import bands
from benchmarks.correlated import STRENGTHS as THREE_STRENGTHS
from benchmarks.correlated import correlated
from tests.random_programmes import COST_PER_KG_QUANTILE, diluted, realistic, stated, target
from tests.random_programmes import bottles as shelf_of

from reaccord.contract import Programme

SIZES = {
    "30x28": (30, 28),
    "60x60": (60, 60),
    "100x150": (100, 150),
    "150x230": (150, 230),
    "400x1000": (400, 1000),
    "1000x3000": (1000, 3000),
}
"""Constituents and bottles."""
STRENGTHS = (0.1, 0.01)
Family = Callable[[int, int, int, int | None, tuple[float, ...]], Programme]


def naturals(
    constituents: int, bottles: int, seed: int, lines: int | None = None, strengths: tuple[float, ...] = ()
) -> Programme:
    """Return a shelf a third of which are naturals over uniformly random constituents.

    Minimum 0.5 % of the batch of 10 g, one price row (ceiling at the 60 % quantile).
    """
    rng = np.random.default_rng((20261126, constituents, bottles, seed))
    named = min(int(rng.integers(40, 81)), round(0.7 * constituents))
    share = target(rng, constituents, named)
    shelf = shelf_of(rng, share, bottles, natural=0.0)
    first = bottles - round(bottles / 3)
    shelf.content[:, first:] = 0.0
    for i in range(first, bottles):
        size = min(int(rng.integers(6, 41)), constituents)
        parts = rng.choice(constituents, size, replace=False)
        amounts = rng.lognormal(0.0, 1.8, size)
        shelf.content[parts, i] = rng.uniform(0.85, 1.0) * amounts / amounts.sum()
    shelf.undeclared = np.maximum(0.0, 1.0 - shelf.content.sum(axis=0))
    shelf.minimum = np.full(bottles, 0.05)
    ceiling = float(np.quantile(shelf.price, COST_PER_KG_QUANTILE))
    if strengths:
        shelf = diluted(shelf, strengths, 0.05)
    active = shelf.active
    shelf.limit("cost", (shelf.price - ceiling * active) / 1000, 0.0)
    if strengths:
        shelf.limit("carrier", 1.0 - active, 15.0)
    if lines is not None:
        shelf.limit("lines", np.zeros(len(active)), float(lines), used=np.ones(len(active)))
    return stated(shelf, share, 10.0, unaccounted=0.02)


FAMILIES: dict[str, Family] = {"realistic": realistic, "naturals": naturals, "bands": bands, "correlated": correlated}


def programme(family: str, size: str, kind: str, seed: int) -> Programme:
    """Return a programme; `kind` is `plain`, a number of lines, or `dilutions`."""
    lines = int(kind) if kind.isdigit() else None
    strengths = THREE_STRENGTHS if family == "correlated" else STRENGTHS
    return FAMILIES[family](*SIZES[size], seed, lines, strengths if kind == "dilutions" else ())
