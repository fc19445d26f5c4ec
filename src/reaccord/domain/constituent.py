"""One substance and the names it goes by."""

from __future__ import annotations

from dataclasses import dataclass

UNDECLARED = "undeclared"
"""The part of a material that nobody declares; no constituent can be called so."""


@dataclass(frozen=True)
class Constituent:
    """A substance, or a sum of isomers (`members`).

    `name` is the one spelling used everywhere after reading. `formula` is the molecular formula in Hill
    order, `benzene_rings` the number of benzene rings (both for response factors); None where nobody
    knows. A carrier (`carrier`) is no odorant: it only dilutes.
    """

    name: str
    cas: str = ""
    synonyms: tuple[str, ...] = ()
    formula: str = ""
    benzene_rings: int | None = None
    carrier: bool = False
    members: tuple[str, ...] = ()
