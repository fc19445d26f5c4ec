"""Which limits make the closest formula farther from the target than an empty vial: an irreducible set of them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from reaccord.answer.why.conflict import sentences_of
from reaccord.answer.why.dropped import ON_HAND, WEIGHABLE
from reaccord.contract import Budget, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.solvers.decide import decide

MOST = 12
"""Limits that are asked about; a study of more is not explained so."""


def in_the_way(programme: Programme, nothing: float, budget: Budget) -> list[str] | None:
    """Return the limits without any one of which some formula is nearer than nothing, as sentences.

    `nothing` is the deviation of an empty vial. None where that is not decided in time; empty where no formula of this
    shelf is nearer, whatever the limits. What each bottle asks for itself (smallest masses, grams on hand) stays.
    """
    sentences = {said: keys for said, keys in sentences_of(programme).items() if not keys & {WEIGHABLE, ON_HAND}}
    if len(sentences) > MOST:
        return None
    free = _nearer(programme, frozenset().union(*sentences.values()), nothing, budget)
    if not free:
        return None if free is None else []
    left_out, together = frozenset[LimitKey](), list[str]()
    for said, keys in sentences.items():
        nearer = _nearer(programme, left_out | keys, nothing, budget)
        if nearer is None:
            return None
        if nearer:
            together.append(said)
        else:
            left_out |= keys
    return together


def _nearer(programme: Programme, without: Collection[LimitKey], nothing: float, budget: Budget) -> bool | None:
    """Whether some formula is nearer than nothing once these limits are left out; None where that is not decided."""
    kept = replace(programme, limits=tuple(row for row in programme.limits if row.key not in without))
    said = decide(kept, nothing, budget.rest())
    if said.amounts is not None and said.value <= nothing:
        return True
    return False if said.bound > nothing or said.status == "infeasible" else None
