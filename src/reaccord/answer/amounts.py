"""Amounts of a programme's columns (n,) and grams by stock: from the one to the other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from reaccord.contract import FloatArray, Programme
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.solvers.switching import BoolArray
from reaccord.study.smallest_mass import exact


def amounts_of(programme: Programme, study: Study, grams: Mapping[StockKey, float]) -> FloatArray:
    """Return grams by stock as amounts (n,) of a study's programme, without stocks that it lacks; nothing is made."""
    amounts = np.zeros(len(programme.columns))
    amounts[: len(study.stocks)] = [grams.get(stock.key, 0.0) for stock in study.stocks]
    return amounts


def by_stock(stocks: Iterable[Stock], amounts: FloatArray) -> dict[StockKey, float]:
    """Return amounts (n,), stocks first, by stock."""
    return {s.key: float(x) for s, x in zip(stocks, amounts, strict=False) if x > 0}


def in_grams(stocks: Iterable[Stock], rounded: FloatArray) -> dict[StockKey, float]:
    """Return amounts on the grid (n,), stocks first, by stock: each the decimal that the balance shows."""
    found = {}
    for stock, grams in zip(stocks, rounded, strict=False):
        step = stock.step_g
        if grams > 0:
            found[stock.key] = float(round(grams / step) * exact(step)) if step > 0 else float(grams)
    return found


def nearest_steps(amounts: FloatArray, steps: FloatArray, least: FloatArray, most: FloatArray) -> FloatArray:
    """Return amounts (m,) at the nearest of their steps, inside the ends of each that is used; no step: as it is."""
    on, rounded = (amounts > 0) & (steps > 0), amounts.copy()
    counts, steps = np.round(amounts[on] / steps[on]), steps[on]
    rounded[on] = np.clip(counts, np.ceil(least[on] / steps - 1e-9), np.floor(most[on] / steps + 1e-9)) * steps
    return rounded


def with_made(programme: Programme, amounts: FloatArray) -> FloatArray:
    """Return amounts (n,), in place, with the grams made of each dilution as they must be."""
    for made in programme.made:
        amounts[made.column] = max(float(amounts[made.stock]), made.least_g) if amounts[made.stock] > 0 else 0.0
    return amounts


def with_helpers(programme: Programme, on: BoolArray) -> BoolArray:
    """Return which columns are on (n,), in place, with the grams made of each dilution that is."""
    for made in programme.made:
        on[made.column] = on[made.stock]
    return on
