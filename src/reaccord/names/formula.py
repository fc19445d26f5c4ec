"""Molecular formulas: counts of atoms and molar mass."""

from __future__ import annotations

import re

STANDARD_WEIGHTS = {
    "H": 1.0080,
    "C": 12.011,
    "N": 14.007,
    "O": 15.999,
    "F": 18.998,
    "S": 32.06,
    "Cl": 35.45,
    "Br": 79.904,
    "I": 126.90,
}
"""Abridged standard atomic weights, g/mol. Source: IUPAC Commission on Isotopic Abundances and Atomic
Weights; Prohaska et al., Pure Appl. Chem. 2022, 94, 573 (abridged values)."""

_ATOM = re.compile(r"([A-Z][a-z]?)([1-9]\d*)?")
_FORMULA = re.compile(rf"(?:{_ATOM.pattern})+")


def atom_counts(formula: str) -> dict[str, int]:
    """Return how many atoms of each element a formula such as `C10H18O` has.

    Raises
    ------
    ValueError
        If the text is no plain formula, names an element twice, or one whose weight is not listed.
    """
    if not _FORMULA.fullmatch(formula):
        raise ValueError(f'"{formula}" is not a molecular formula such as C10H18O')
    counts: dict[str, int] = {}
    for element, count in _ATOM.findall(formula):
        if element in counts:
            raise ValueError(f'"{formula}" names {element} twice; write a sum formula such as C10H18O')
        if element not in STANDARD_WEIGHTS:
            raise ValueError(f'"{formula}" holds {element}; only {", ".join(STANDARD_WEIGHTS)} are known')
        counts[element] = int(count or 1)
    return counts


def molar_mass(formula: str) -> float:
    """Return the molar mass in g/mol from the abridged standard atomic weights."""
    return sum(STANDARD_WEIGHTS[element] * count for element, count in atom_counts(formula).items())


def hill_order(formula: str) -> str:
    """Return the formula in Hill order: carbon, hydrogen, then the rest by letter.

    Without carbon every element stands by letter. Source: Hill, J. Am. Chem. Soc. 1900, 22, 478.
    """
    counts = atom_counts(formula)
    first = [e for e in ("C", "H") if e in counts] if "C" in counts else []
    order = first + sorted(e for e in counts if e not in first)
    return "".join(f"{e}{counts[e] if counts[e] > 1 else ''}" for e in order)
