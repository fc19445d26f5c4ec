"""Stocks that can have no part in a named amount: no number of their steps makes it.

Of 1.005 g a balance that reads to 0.01 g can weigh nothing, but 10.05 g of a tenth solution are no trouble.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from functools import reduce

import numpy as np

from reaccord.answer.rounding.grid import Columns
from reaccord.contract import FloatArray, LimitRow, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.study.smallest_mass import exact


def without_off_grid(programme: Programme) -> Programme | None:
    """Return the programme with a limit for each such material, or None if there is none."""
    none, rows = np.zeros(len(programme.columns)), []
    for name, useless in _useless(programme):
        sentence = f"{name} at a strength whose whole steps make that amount"
        rows.append(LimitRow(LimitKey("off grid", (name,)), name, sentence, none, useless, 0.0))
    return replace(programme, limits=(*programme.limits, *rows)) if rows else None


def _useless(programme: Programme) -> Iterator[tuple[str, FloatArray]]:
    """Yield materials and which of their stocks (n,) have no number of steps between the least and the most asked.

    Several lots of one strength may be poured, so that the common measure of their steps counts; so does that of
    several strengths, where none does alone.
    """
    steps = programme.step
    for name, strengths, least, most in _amounts(programme):
        useless, of_it = np.zeros(len(strengths)), np.flatnonzero(strengths > 0)
        for strength in sorted(set(strengths[of_it].tolist())):
            stocks = np.flatnonzero(strengths == strength)
            if (steps[stocks] > 0).all() and not _between(stocks, strengths, steps, least, most):
                useless[stocks] = 1.0
        if useless[of_it].all() and len(of_it) and _between(of_it, strengths, steps, least, most):
            continue
        if useless.any():
            yield name, useless


def _between(stocks: Columns, strengths: FloatArray, steps: FloatArray, least: float, most: float) -> bool:
    neat = reduce(_common, (exact(float(strengths[i])) * exact(steps[i]) for i in stocks))
    return math.ceil(exact(least) / neat) * neat <= (exact(most) if math.isfinite(most) else math.inf)


def _common(one: Fraction, other: Fraction) -> Fraction:
    """Return the greatest common measure of two masses."""
    whole = math.gcd(one.numerator * other.denominator, other.numerator * one.denominator)
    return Fraction(whole, one.denominator * other.denominator)


def _amounts(programme: Programme) -> Iterator[tuple[str, FloatArray, float, float]]:
    """Yield materials, the strengths (n,) of their stocks, and the least and the most neat material asked, in gram."""
    most = {row.key.subject: row.most for row in programme.limits if row.key.kind == "amount at most"}
    for row in programme.limits:
        if row.key.kind == "amount at least":
            (material,) = row.key.subject
            yield material, -row.amounts, -row.most, most.get(row.key.subject, math.inf)
