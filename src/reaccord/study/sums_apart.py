"""Bottles that state only a sum of isomers where the target lists its members apart: set aside, and said."""

from __future__ import annotations

from collections.abc import Iterable

from reaccord.domain.stock import StockKey
from reaccord.findings import Findings
from reaccord.study.materials import Part, Reconciled

REASON = "states only a sum"


def states_only_sums(
    settled: Reconciled, bottles: Iterable[StockKey], apart: frozenset[str], findings: Findings
) -> dict[StockKey, str]:
    """Return those of the bottles of which nobody can tell how much of a constituent of the target they hold.

    `apart` are the constituents that the target's rows take in. A sum inside a blend counts too.
    """
    reasons: dict[StockKey, str] = {}
    for key in sorted(bottles):
        for owner in settled.inside(settled.analysis(key.material, key.lot)):
            for part in settled.parts.get(owner, []):
                listed = _listed(part, settled, apart)
                if listed:
                    reasons[key] = REASON
                    _warn(owner, part, listed, settled, findings)
    return reasons


def _listed(part: Part, settled: Reconciled, apart: frozenset[str]) -> list[str]:
    if part.kind != "constituent" or part.name in apart:
        return []
    return sorted((settled.names.covers(part.name) - {part.name}) & apart)


def _warn(owner: str, part: Part, listed: list[str], settled: Reconciled, findings: Findings) -> None:
    members = sorted(settled.names.covers(part.name) - {part.name})
    findings.warn(
        "sum-or-members",
        f"{owner} states only {part.name}, the target lists {', '.join(listed)}: what holds it is set aside. To use "
        f'it, give {" and ".join(members)} of {owner} apart, or one target row "{" + ".join(members)}".',
        part.place,
    )
