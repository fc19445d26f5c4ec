"""Molecular formulas."""

from __future__ import annotations

import pytest

from reaccord.names.formula import atom_counts, hill_order, molar_mass


def test_counts() -> None:
    assert atom_counts("C10H18O") == {"C": 10, "H": 18, "O": 1}
    assert atom_counts("C10H9Cl3O2")["Cl"] == 3


@pytest.mark.parametrize(
    ("formula", "reason"),
    [
        ("", "not a molecular formula"),
        ("c10h18o", "not a molecular formula"),
        ("C10H18O ", "not a molecular formula"),
        ("C0H4", "not a molecular formula"),
        ("(CH3)2CO", "not a molecular formula"),
        ("CH3CH2OH", "names C twice"),
        ("C4H12Si", "holds Si"),
    ],
)
def test_what_is_no_formula(formula: str, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        atom_counts(formula)


# Molar masses: NIST Chemistry WebBook, from memory (linalool 154.2493, p-cymene 134.2182,
# indole 117.1479, dimethyl sulfide 62.134); abridged weights differ in the third decimal.
@pytest.mark.parametrize(
    ("formula", "mass"), [("C10H18O", 154.2493), ("C10H14", 134.2182), ("C8H7N", 117.1479), ("C2H6S", 62.134)]
)
def test_molar_mass(formula: str, mass: float) -> None:
    assert molar_mass(formula) == pytest.approx(mass, rel=1e-4)


@pytest.mark.parametrize(
    ("written", "hill"),
    [("OC10H18", "C10H18O"), ("C10H9O2Cl3", "C10H9Cl3O2"), ("OH2", "H2O"), ("C5H5ONS", "C5H5NOS")],
)
def test_hill_order(written: str, hill: str) -> None:
    assert hill_order(written) == hill
