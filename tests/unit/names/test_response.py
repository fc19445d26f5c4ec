"""Predicted response factors against the published formula worked out elsewhere."""

from __future__ import annotations

import pytest

from reaccord.names.response import relative_response

# Worked out independently from the formula of de Saint Laumer et al., Anal. Chem. 2010, 82, 6457
# (coefficients read, values computed to four decimals); one row for each formula and number of rings.
PREDICTED = [
    ("C9H18O2", 0, 1.0082),  # methyl octanoate
    ("C10H16", 0, 0.7647),  # alpha-pinene
    ("C10H14", 1, 0.6978),  # p-cymene
    ("C10H18O", 0, 0.8688),  # 1,8-cineole
    ("C12H20O2", 0, 0.9574),  # linalyl acetate
    ("C10H16O", 0, 0.887),  # camphor
    ("C10H14O", 0, 0.9065),  # verbenone
    ("C8H16O", 0, 0.8933),  # 3-octanone
    ("C10H20O", 0, 0.8518),  # menthol
    ("C12H22O2", 0, 0.9401),  # menthyl acetate
    ("C11H20O2", 0, 0.9649),  # citronellyl formate
    ("C11H18O2", 0, 0.9849),  # geranyl formate
    ("C8H10O", 1, 0.8375),  # 2-phenylethanol
    ("C13H18O", 0, 0.8661),  # beta-damascenone
    ("C13H20O", 0, 0.8523),  # beta-ionone
    ("C10H12O2", 1, 0.9472),  # eugenol
    ("C11H14O2", 1, 0.9219),  # methyl eugenol
    ("C12H14O3", 1, 1.0269),  # eugenyl acetate
    ("C10H12O", 1, 0.8239),  # estragole
    ("C10H10O2", 1, 0.9687),  # safrole
    ("C9H8O", 1, 0.8582),  # cinnamal
    ("C9H6O2", 1, 1.0325),  # coumarin
    ("C8H8O3", 1, 1.1992),  # vanillin
    ("C7H6O", 1, 0.8845),  # benzaldehyde
    ("C7H8O", 1, 0.859),  # benzyl alcohol
    ("C9H10O2", 1, 0.9791),  # benzyl acetate
    ("C14H12O2", 2, 0.8502),  # benzyl benzoate
    ("C14H12O3", 2, 0.9388),  # benzyl salicylate
    ("C8H8O2", 1, 1.0205),  # methyl benzoate
    ("C8H9NO2", 1, 1.1003),  # methyl anthranilate
    ("C8H7N", 1, 0.8105),  # indole
    ("C9H18O", 0, 0.87),  # nonanal
    ("C15H24", 0, 0.751),  # beta-caryophyllene
    ("C15H26O", 0, 0.8191),  # 10-epi-gamma-eudesmol
    ("C15H24O", 0, 0.8298),  # caryophyllene oxide
    ("C20H36O2", 0, 0.8457),  # sclareol
    ("C19H40", 0, 0.7148),  # nonadecane
    ("C21H44", 0, 0.7136),  # heneicosane
    ("C17H36", 0, 0.7163),  # heptadecane
    ("C6H14O3", 0, 1.3914),  # dipropylene glycol
    ("C12H20O7", 0, 1.603),  # triethyl citrate
    ("C17H34O2", 0, 0.8539),  # isopropyl myristate
    ("C12H14O4", 1, 1.1438),  # diethyl phthalate
    ("C2H6O", 0, 1.5552),  # ethanol
]


@pytest.mark.parametrize(("formula", "rings", "predicted"), PREDICTED)
def test_predicted_factors(formula: str, rings: int, predicted: float) -> None:
    assert relative_response(formula, rings) == pytest.approx(predicted, abs=6e-5)


def test_a_heteroatom_of_each_kind_counts() -> None:
    # By hand from the same formula: M and the coefficients of S, N, F, Cl, Br, I; no ring.
    by_hand = {
        "C2H6S": 1000 * 62.130 / 158.24 / (-61.3 + 2 * 88.8 + 6 * 18.7 + 64.0),
        "C5H11NO2": 1000 * 117.148 / 158.24 / (-61.3 + 5 * 88.8 + 11 * 18.7 - 2 * 41.3 + 6.4),
        "C6H13F": 1000 * 104.168 / 158.24 / (-61.3 + 6 * 88.8 + 13 * 18.7 - 20.2),
        "C6H13Cl": 1000 * 120.62 / 158.24 / (-61.3 + 6 * 88.8 + 13 * 18.7 - 23.5),
        "C6H13Br": 1000 * 165.074 / 158.24 / (-61.3 + 6 * 88.8 + 13 * 18.7 - 10.2),
        "C6H13I": 1000 * 212.07 / 158.24 / (-61.3 + 6 * 88.8 + 13 * 18.7 - 1.75),
    }
    for formula, factor in by_hand.items():
        assert relative_response(formula, 0) == pytest.approx(factor, rel=1e-12), formula


def test_a_benzene_ring_raises_the_signal() -> None:
    assert relative_response("C10H14", 1) < relative_response("C10H14", 0)


@pytest.mark.parametrize("formula", ["H2O", "CO2", "H2S"])
def test_what_the_detector_does_not_see(formula: str) -> None:
    with pytest.raises(ValueError, match="does not see"):
        relative_response(formula, 0)


def test_rings_cannot_be_negative() -> None:
    with pytest.raises(ValueError, match="-1 benzene rings"):
        relative_response("C10H16", -1)
