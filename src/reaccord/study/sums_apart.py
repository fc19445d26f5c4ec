"""Sums of isomers in a bottle's analysis where the target lists the members apart: set aside, or foreign if small."""

from __future__ import annotations

from collections.abc import Iterable

from reaccord.domain.settled import Part, TargetEntry
from reaccord.domain.stock import Content
from reaccord.findings import Finding
from reaccord.study.materials import Reconciled

SMALL = 0.1
"""Of the neat bottle: a sum that makes less of it is counted as foreign, and the bottle may be poured."""


class SumsApart:
    """What of a bottle's analysis is a sum of which nobody can tell how much of a constituent of the target it is."""

    def __init__(self, settled: Reconciled, target: Iterable[TargetEntry]) -> None:
        self._settled = settled
        self._apart = {name for entry in target for name in entry.members}

    def of(self, analysis: str, content: Content, strength: float) -> tuple[bool, tuple[Finding, ...]]:
        """Return whether a bottle must be set aside for a sum in its analysis, and what to say of its sums.

        `content` is what one gram of the bottle holds, `strength` how much of it is the material. Blends inside count.
        """
        owners = self._settled.inside(analysis)
        parts = [(o, p) for o in owners for p in self._settled.parts.get(o, []) if self._listed(p)]
        held = {part.name: content.typical.get(part.name, 0.0) / strength for _, part in parts}
        large = [(owner, part) for owner, part in parts if held[part.name] >= SMALL]
        if large:
            return True, tuple(
                self._warning(owner, part, "what holds it is set aside. To use it") for owner, part in large
            )
        small = "it is little of the bottle and counts as foreign. To have it counted"
        return False, tuple(self._warning(owner, part, small) for owner, part in parts)

    def _listed(self, part: Part) -> list[str]:
        if part.kind != "constituent" or part.name in self._apart:
            return []
        return sorted((self._settled.names.covers(part.name) - {part.name}) & self._apart)

    def _warning(self, owner: str, part: Part, so: str) -> Finding:
        members = sorted(self._settled.names.covers(part.name) - {part.name})
        text = (
            f"{owner} states only {part.name}, the target lists {', '.join(self._listed(part))}: {so}, give "
            f'{" and ".join(members)} of {owner} apart, or one target row "{" + ".join(members)}".'
        )
        return Finding("warning", "sum-or-members", text, part.place)
