"""Whether each limit of a study holds for what is poured: the judge's half that looks at limits."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal, NamedTuple

from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import Stock
from reaccord.domain.study import Study

ROUNDING_NOISE = 1e-9
"""Relative; sums of a hundred floating-point products stay well below."""


class Pour(NamedTuple):
    """So many grams of one stock."""

    stock: Stock
    grams: float


class Claim(NamedTuple):
    """One limit: what it says, where the formula stands (same unit as the limit)."""

    key: LimitKey
    label: str
    value: float
    limit: float
    sense: Literal["at most", "at least"]
    unit: Literal["g", "share", "per kg", "lines", "ratio"]


class LimitState(NamedTuple):
    """A claim, whether it holds and whether it holds the formula back; `key` tells it from others."""

    key: LimitKey
    label: str
    value: float
    limit: float
    sense: Literal["at most", "at least"]
    unit: Literal["g", "share", "per kg", "lines", "ratio"]
    binding: bool
    held: bool


def limit_states(study: Study, pours: tuple[Pour, ...], basis_g: float, slack: float) -> tuple[LimitState, ...]:
    """Return the state of every limit that is set, or broken though nobody set it (a bottle's grams).

    `basis_g` is the gram of accord that is poured: what limits per gram are divided by.
    """
    states = [_state(claim, slack) for claim in claims(study, pours, basis_g)]
    quiet = [_state(claim, slack) for claim in quiet_claims(study, pours, slack)]
    return (*states, *(state for state in quiet if state.binding or not state.held))


def _state(claim: Claim, slack: float) -> LimitState:
    value, limit = claim.value, claim.limit
    room = limit - value if claim.sense == "at most" else value - limit
    size = max(abs(limit), abs(value), 1e-12)
    # a prohibited substance that nothing brings holds nothing back; no dilutions, or no carrier, may hold back a lot
    idle = claim.key.kind == "restricted" and value == 0 and limit == 0
    binding = room <= slack * size and not idle
    return LimitState(*claim, binding, room >= -ROUNDING_NOISE * size)


def claims(study: Study, pours: tuple[Pour, ...], basis_g: float) -> Iterator[Claim]:
    """Yield the limits that the study sets."""
    limits, batch = study.settings.limits, study.settings.batch
    if limits.cost_per_kg is not None:
        cost = math.fsum(p.grams * (p.stock.price_per_g or 0.0) for p in pours)
        yield Claim(LimitKey("cost"), "cost", 1000 * cost / basis_g, limits.cost_per_kg, "at most", "per kg")
    if limits.lines is not None:
        yield Claim(LimitKey("lines"), "lines", len(pours), limits.lines, "at most", "lines")
    most_made = study.settings.dilutions.most if study.settings.dilutions else None
    if most_made is not None:
        made = sum(p.stock.recipe is not None for p in pours)
        yield Claim(LimitKey("dilutions"), "dilutions made", made, most_made, "at most", "lines")
    if batch.carrier_max_g is not None:
        carrier = math.fsum(p.grams * p.stock.carrier_share for p in pours)
        yield Claim(LimitKey("carrier"), "carrier", carrier, batch.carrier_max_g, "at most", "g")
    if limits.undeclared is not None:
        undeclared = math.fsum(p.grams * p.stock.content.undeclared for p in pours)
        share = undeclared / basis_g
        yield Claim(LimitKey("undeclared"), "undeclared", share, limits.undeclared, "at most", "share")
    for amount in study.amounts:
        neat = math.fsum(p.grams * p.stock.key.strength for p in pours if p.stock.key.material == amount.material)
        if amount.least_g > 0:
            key = LimitKey("amount at least", (amount.material,))
            yield Claim(key, f"{amount.material} at least", neat, amount.least_g, "at least", "g")
        if amount.most_g < math.inf:
            key = LimitKey("amount at most", (amount.material,))
            yield Claim(key, f"{amount.material} at most", neat, amount.most_g, "at most", "g")
    dosage = limits.dosage or 0.0
    for key, label, terms, most, unit in study.claims():
        held = math.fsum(c * p.grams * member.held(p.stock.content) for c, member in terms for p in pours)
        yield Claim(key, label, dosage * held / basis_g, most, "at most", unit)


def quiet_claims(study: Study, pours: tuple[Pour, ...], slack: float = 1.0) -> Iterator[Claim]:
    """Yield what every bottle asks for itself; worth a word only where it binds or breaks.

    What is certainly farther from binding than `slack`, relative, is passed over: that is most, and words take time.
    """
    near = 1 - 2 * slack
    aside = {item.stock.key: item.reason for item in study.set_aside}
    strengths: dict[str, set[float]] = {}
    taken: dict[object, float] = {}
    for pour in pours:
        stock, key = pour.stock, pour.stock.key
        if stock.recipe is not None:
            strengths.setdefault(key.material, set()).add(key.strength)
        if key in aside:
            yield Claim(
                LimitKey("set aside", key.subject), f"{stock.label}: {aside[key]}", pour.grams, 0.0, "at most", "g"
            )
        if stock.minimum_g > 0 and near * pour.grams <= stock.minimum_g:
            label = f"{stock.label}: smallest weighable"
            yield Claim(LimitKey("smallest", key.subject), label, pour.grams, stock.minimum_g, "at least", "g")
        if stock.step_g > 0:
            off = abs(pour.grams / stock.step_g - round(pour.grams / stock.step_g)) * stock.step_g
            if off > 1e-6 * stock.step_g:
                label = f"{stock.label}: whole steps of {stock.step_g:g} g"
                yield Claim(LimitKey("steps", key.subject), label, off, 0.0, "at most", "g")
        if stock.recipe is None:
            taken[key] = taken.get(key, 0.0) + pour.grams
        else:
            made = max(pour.grams, stock.recipe.least_g)
            source, carrier, share = stock.recipe.source, stock.recipe.carrier, stock.recipe.source_share
            taken[source] = taken.get(source, 0.0) + made * share
            taken[carrier] = taken.get(carrier, 0.0) + made * (1 - share)
    for stock in study.every_stock:
        poured = taken.get(stock.key) if stock.recipe is None and stock.maximum_g < math.inf else None
        if poured is not None and near * stock.maximum_g <= poured:
            claimed = LimitKey("on hand", stock.key.subject)
            yield Claim(claimed, f"{stock.label}: on hand", poured, stock.maximum_g, "at most", "g")
    for material, used in sorted(strengths.items()):
        if len(used) > 1:
            label = f"{material}: strengths made"
            yield Claim(LimitKey("strengths", (material,)), label, len(used), 1, "at most", "lines")
