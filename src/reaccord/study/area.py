"""Area percent of a flame ionisation detector into mass percent: the factor of a row."""

from __future__ import annotations

from collections.abc import Sequence

from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.response import relative_response

COMMON_FACTOR = 0.02
"""Members of a group may differ by this much in their response factors."""


def response_factor(names_of: Sequence[str], place: Place, names: NameBook, findings: Findings) -> float:
    """Return the common relative response factor of constituents reported as one value.

    A sum whose own formula nobody knows has that of its members. Findings: no formula known, a substance
    the detector does not see, or members that differ by more than 2 %.
    """
    factors: list[float] = []
    for name in names_of:
        known = names.find(name)
        members = known.members if known and not (known.formula and known.benzene_rings is not None) else ()
        for member in members or (name,):
            factors += _one_factor(member, place, names, findings)
    if not factors:
        return 1.0
    if max(factors) > min(factors) * (1 + COMMON_FACTOR):
        findings.error(
            "group-response",
            f"{' + '.join(names_of)}: the members respond differently in a flame-ionisation detector "
            f"({min(factors):.3f} to {max(factors):.3f}). Give them in rows of their own.",
            place,
        )
    return sum(factors) / len(factors)


def _one_factor(name: str, place: Place, names: NameBook, findings: Findings) -> list[float]:
    known = names.find(name)
    if known is None or not known.formula or known.benzene_rings is None:
        findings.error(
            "no-molecular-formula",
            f"no molecular formula is known for {name}, so its area cannot be converted to mass. "
            "Give formula and benzene_rings in the constituents table.",
            place,
        )
        return []
    try:
        return [relative_response(known.formula, known.benzene_rings)]
    except ValueError as fault:
        findings.error("no-response", f"{name}: {fault}. Such a row cannot be area %.", place)
        return []
