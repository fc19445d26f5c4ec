"""What tells one limit of a study from another, whatever people call it."""

from __future__ import annotations

from typing import Literal, NamedTuple

LimitKind = Literal[
    "cost",
    "lines",
    "dilutions",
    "carrier",
    "undeclared",
    "restricted",
    "amount at least",
    "amount at most",
    "on hand",
    "made",
    "smallest",
    "steps",
    "strengths",
    "set aside",
    "off grid",
]
"""Of these `made` is no limit of its own: it says what the grams made of a dilution are."""


class LimitKey(NamedTuple):
    """The kind of a limit and what it is about: a stock, a material, a claim of a rule, or nothing (the whole formula).

    Labels are for people: a rule may be called `cost`, or like a bottle.
    """

    kind: LimitKind
    subject: tuple[str, ...] = ()
