"""Predicted response of the flame ionisation detector, from the molecular formula alone.

Source: de Saint Laumer, Cicchetti, Merle, Egger, Chaintreau, Anal. Chem. 2010, 82, 6457-6462, from
combustion enthalpies and molecular structures; internal standard methyl octanoate.
"""

from __future__ import annotations

from reaccord.names.formula import atom_counts, molar_mass

METHYL_OCTANOATE = 158.24
"""Molar mass of the internal standard as the formula states it, g/mol."""
INTERCEPT = -61.3
PER_ATOM = {
    "C": 88.8,
    "H": 18.7,
    "O": -41.3,
    "N": 6.4,
    "S": 64.0,
    "F": -20.2,
    "Cl": -23.5,
    "Br": -10.2,
    "I": -1.75,
}
PER_BENZENE_RING = 127.0


def relative_response(formula: str, benzene_rings: int) -> float:
    """Return the predicted relative response factor: mass is proportional to area times this.

    Parameters
    ----------
    formula
        Molecular formula, elements C, H, O, N, S, F, Cl, Br, I.
    benzene_rings
        Number of benzene rings (naphthalene has two, indole and coumarin one).

    Returns
    -------
    float
        ``1000 (M / 158.24) / (-61.3 + 88.8 nC + 18.7 nH - 41.3 nO + 6.4 nN + 64.0 nS - 20.2 nF
        - 23.5 nCl - 10.2 nBr - 1.75 nI + 127 nBenz)``, no unit.

    Raises
    ------
    ValueError
        If the formula cannot be read, or predicts no signal (water).
    """
    if benzene_rings < 0:
        raise ValueError(f"a molecule cannot have {benzene_rings} benzene rings")
    counts = atom_counts(formula)
    signal = INTERCEPT + sum(PER_ATOM[element] * count for element, count in counts.items())
    signal += PER_BENZENE_RING * benzene_rings
    if counts.get("C", 0) == 0 or signal <= 0:
        raise ValueError(f"a flame ionisation detector does not see {formula}")
    return 1000.0 * molar_mass(formula) / METHYL_OCTANOATE / signal
