"""Conditions that rules set on the raw material, which no table of shares can show: a certificate must say them."""

from __future__ import annotations

import math
from collections.abc import Iterable

from reaccord.domain.settled import Bottle, RuleEntry
from reaccord.names.key import name_key

MOSTLY = 0.5
"""A bottle is held to the condition on a constituent that makes up so much of its material (ours: "substantial")."""


def unmet(bottle: Bottle, rules: Iterable[RuleEntry], product: str) -> list[tuple[str, str]]:
    """Return rule and condition for each that holds for this bottle and product, and that nothing says it fulfils."""
    met = {name_key(text) for text in bottle.line.conditions_met}
    found: dict[str, tuple[str, str]] = {}
    for entry in rules:
        line = entry.line
        if line.condition and line.holds_for(product) and _concerns(entry, bottle):
            found |= {name_key(text): (line.rule, text) for text in line.condition if name_key(text) not in met}
    return list(found.values())


def _concerns(entry: RuleEntry, bottle: Bottle) -> bool:
    """Whether the bottle is a member of the rule, or mostly made of one."""
    content, strength = bottle.content, bottle.key.strength
    for member in entry.members:
        if member.material:
            held = content.materials.get(member.material, 0.0)
        else:
            held = math.fsum(content.typical.get(name, 0.0) for name in sorted(member.constituents))
        if held >= MOSTLY * strength:
            return True
    return False
