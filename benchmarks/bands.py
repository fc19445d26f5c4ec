"""Rows opened into bands, as ranges of a standard or of several samples are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from tests.random_programmes import realistic

from reaccord.contract import Programme


def opened(rng: np.random.Generator, programme: Programme, part: float, low: float, high: float) -> Programme:
    """Return the programme with a part of its named rows opened, down to `low` and up to `high` times the share."""
    chosen = (rng.random(len(programme.rows)) < part) & (programme.low > 0)
    lower = np.where(chosen, programme.low * rng.uniform(low, 1.0, len(chosen)), programme.low)
    upper = np.where(chosen, programme.high * rng.uniform(1.0, high, len(chosen)), programme.high)
    return replace(programme, low=lower, high=upper)


def bands(
    constituents: int, bottles: int, seed: int, lines: int | None = None, strengths: tuple[float, ...] = ()
) -> Programme:
    """Return the realistic family with bands on three fifths of its rows."""
    rng = np.random.default_rng((20261129, constituents, bottles, seed))
    return opened(rng, realistic(constituents, bottles, seed, lines, strengths), 0.6, 0.5, 1.6)
