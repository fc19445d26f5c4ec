"""Bottles that state only a sum of isomers where the target lists its members apart: set aside, and said."""

from __future__ import annotations

from collections.abc import Iterable

from reaccord.domain.settled import Part, TargetEntry
from reaccord.findings import Finding
from reaccord.study.materials import Reconciled


class SumsApart:
    """What of a bottle's analysis is a sum of which nobody can tell how much of a constituent of the target it is."""

    def __init__(self, settled: Reconciled, target: Iterable[TargetEntry]) -> None:
        self._settled = settled
        self._apart = {name for entry in target for name in entry.members}

    def of(self, analysis: str) -> tuple[Finding, ...]:
        """Return what to say of each sum in an analysis, or in a blend inside; none: it may be poured."""
        owners = self._settled.inside(analysis)
        parts = ((owner, part) for owner in owners for part in self._settled.parts.get(owner, []))
        return tuple(self._warning(owner, part) for owner, part in parts if self._listed(part))

    def _listed(self, part: Part) -> list[str]:
        if part.kind != "constituent" or part.name in self._apart:
            return []
        return sorted((self._settled.names.covers(part.name) - {part.name}) & self._apart)

    def _warning(self, owner: str, part: Part) -> Finding:
        members = sorted(self._settled.names.covers(part.name) - {part.name})
        text = (
            f"{owner} states only {part.name}, the target lists {', '.join(self._listed(part))}: what holds it is set "
            f"aside. To use it, give {' and '.join(members)} of {owner} apart, or one target row "
            f'"{" + ".join(members)}".'
        )
        return Finding("warning", "sum-or-members", text, part.place)
