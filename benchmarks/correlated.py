"""Shelves whose bottles resemble each other, as real ones do; all data are invented.

Half of the bottles are naturals of a few chemotypes that share common constituents, each material in two to four lots
and qualities that nearly agree; the others are singles, many of them in two qualities. What a constituent costs makes
the prices, so bottles that can stand for each other cost about the same. The target is a blend of three chemotypes
and a few singles; a third of its rows are bands.
"""

from __future__ import annotations

import numpy as np
from benchmarks.bands import opened
from tests.random_programmes import COST_PER_KG_QUANTILE, Shelf, diluted, stated

from reaccord.contract import FloatArray, Programme

STRENGTHS = (0.1, 0.01, 0.001)
BATCH_G, SMALLEST = 10.0, 0.02


def correlated(
    constituents: int, bottles: int, seed: int, lines: int | None = None, strengths: tuple[float, ...] = ()
) -> Programme:
    """Return a programme of 10 g: minimum 0.2 %, price ceiling at the 60 % quantile, two restricted substances."""
    rng = np.random.default_rng((20261128, constituents, bottles, seed))
    chemotypes = _chemotypes(rng, constituents, max(4, bottles // 20))
    share = _target(rng, chemotypes)
    shelf = _shelf(rng, chemotypes, bottles, share)
    ceiling = float(np.quantile(shelf.price, COST_PER_KG_QUANTILE))
    if strengths:
        shelf = diluted(shelf, strengths, SMALLEST)
    active = shelf.active
    shelf.limit("cost", (shelf.price - ceiling * active) / 1000, 0.0)
    if strengths:
        shelf.limit("carrier", 1.0 - active, 1.5 * BATCH_G)
    for k in rng.choice(np.flatnonzero(share > 0.002), 2, replace=False):
        shelf.limit(f"restricted {k}", shelf.content[k] - 0.8 * share[k] * active, 0.0)
    if lines is not None:
        shelf.limit("lines", np.zeros(len(active)), float(lines), used=np.ones(len(active)))
    return opened(rng, stated(shelf, share, BATCH_G, unaccounted=0.02), 1 / 3, 0.6, 1.5)


def _chemotypes(rng: np.random.Generator, constituents: int, count: int) -> FloatArray:
    """Return what each chemotype consists of, (count, constituents): the common ones and a few of its own."""
    common = rng.choice(constituents, max(5, constituents // 6), replace=False)
    found = np.zeros((count, constituents))
    for k in range(count):
        shared = common[rng.random(len(common)) < 0.7]
        own = rng.choice(constituents, int(rng.integers(5, max(8, constituents // 5))), replace=False)
        found[k, shared] = rng.lognormal(0.0, 1.2, len(shared))
        found[k, own] = rng.lognormal(0.5, 1.6, len(own))
    return found / found.sum(axis=1, keepdims=True)


def _target(rng: np.random.Generator, chemotypes: FloatArray) -> FloatArray:
    """Return the shares of an original (K,): three chemotypes in a year of their own, and a few singles."""
    chosen = rng.choice(len(chemotypes), 3, replace=False)
    share = rng.dirichlet((4.0, 2.0, 1.0)) @ chemotypes[chosen] * rng.lognormal(0.0, 0.3, chemotypes.shape[1])
    singles = rng.choice(len(share), 4, replace=False)
    share[singles] += rng.uniform(0.01, 0.1, 4)
    share[share < 2e-4 * share.sum()] = 0.0
    return np.asarray(share / share.sum())


def _shelf(rng: np.random.Generator, chemotypes: FloatArray, bottles: int, share: FloatArray) -> Shelf:
    """Return the bottles: lots and qualities of materials, naturals for one half."""
    constituents = chemotypes.shape[1]
    worth = rng.lognormal(4.0, 1.0, constituents)
    likely = np.where(share > 0, 4.0, 1.0) / np.where(share > 0, 4.0, 1.0).sum()
    content, price = np.zeros((constituents, bottles)), np.zeros(bottles)
    i = 0
    while i < bottles:
        natural = i < bottles // 2
        lots = int(rng.integers(2, 5) if natural else rng.integers(1, 3))
        if natural:
            material = chemotypes[int(rng.integers(len(chemotypes)))] * rng.lognormal(0.0, 0.4, constituents)
        else:
            material = np.zeros(constituents)
            material[rng.choice(constituents, 1, p=likely)] = 1.0
            material[rng.choice(constituents, int(rng.integers(0, 4)), replace=False)] += rng.uniform(0.002, 0.03)
        markup = rng.lognormal(0.0, 0.3)
        for _ in range(min(lots, bottles - i)):
            lot = material * rng.lognormal(0.0, 0.1, constituents)
            content[:, i] = rng.uniform(0.88, 0.995) * lot / lot.sum()
            price[i] = markup * float(worth @ content[:, i]) * rng.lognormal(0.0, 0.1)
            i += 1
    nearly_empty = rng.random(bottles) < 0.1
    return Shelf(
        content=content,
        undeclared=1.0 - content.sum(axis=0),
        price=price,
        minimum=np.full(bottles, SMALLEST),
        maximum=np.where(nearly_empty, rng.uniform(0.005, 0.03, bottles) * BATCH_G, np.inf),
    )
