"""A material that stands on the shelf as a dilution only, named without a strength: which is meant is asked."""

from __future__ import annotations

from collections.abc import Iterable

from reaccord.findings import Findings, Place


def ask_strength(material: str, bottles: Iterable[tuple[float, str]], neat: str, at: Place, findings: Findings) -> bool:
    """Ask of a row without a strength which is meant, if no bottle is neat; return whether it was asked.

    `bottles` are strength (a fraction) and carrier of each bottle of the material; `neat` is what to do if it was neat.
    """
    there = sorted(set(bottles), reverse=True)
    if not there or there[0][0] >= 1:
        return False
    shown = ", ".join(f"{strength * 100:g} % in {carrier}" for strength, carrier in there)
    only = "the only bottle of it is" if len(there) == 1 else "its bottles are"
    strength, carrier = there[0]
    text = (
        f"blank: neat {material} or a dilution? No bottle is neat, {only} {shown}. Write strength "
        f"{strength * 100:g} and carrier {carrier} if that was weighed, {neat} if neat {material} was."
    )
    findings.error("which-strength", text, at.at("strength"))
    return True
