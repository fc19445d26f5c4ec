"""When spellings are one name, and which is nearest."""

from __future__ import annotations

import pytest

from reaccord.names.key import name_key, nearest


@pytest.mark.parametrize(
    ("left", "right"),
    [
        ("α-Pinene", "alpha-pinene"),
        ("Α-PINENE", "alpha pinene"),
        ("E-β-ocimene", "(E)-beta-Ocimene"),
        ("1,8 – cineole", "1,8-Cineole"),
        ("Iso-Menthone", "isomenthone"),
        ("Fenchyl acétate", "fenchyl acetate"),
        ("(2E,6E)-farnesol", "2E,6E-Farnesol"),
        ("τ-cadinol", "tau-cadinol"),
        ("4′-methylacetophenone", "4'-Methylacetophenone"),
        ("thuja-2,4(10)diene", "thuja-2,4(10)-diene"),
        ("ß-Caryophyllene", "beta-caryophyllene"),  # the German sharp s for a beta
        ("(E)-ß-Ocimene", "(E)-β-ocimene"),
        ("ρ-cymene", "p-cymene"),  # a rho for a p
        ("1.8-cineole", "1,8-cineole"),  # points for commas
        ("2-methyl-1.3-butadiene", "2-methyl-1,3-butadiene"),
        ("Weißtanne oil", "Weisstanne oil"),
        ("µ-test", "mu-test"),  # the micro sign is a mu
        ("(+-)-menthol", "(±)-menthol"),
        ("(+ -)-menthol", "(±)-menthol"),
        ("(-+)-menthol", "(±)-menthol"),
        ("(+−)-menthol", "(±)-menthol"),
        ("( + / - )-menthol", "(±)-menthol"),
        ("(+,-)-menthol", "(±)-menthol"),
        ("(∓)-menthol", "(±)-menthol"),
        ("menthol (+-)", "menthol (±)"),
        ("(Ε)-β-ocimene", "(E)-β-ocimene"),  # a Greek capital Epsilon
        ("(Ζ)-β-ocimene", "(Z)-β-ocimene"),  # a Greek capital Zeta
        ("(2Ε,6Ζ)-farnesol", "(2E,6Z)-farnesol"),
    ],
)
def test_one_name(left: str, right: str) -> None:
    assert name_key(left) == name_key(right)


@pytest.mark.parametrize(
    ("left", "right"),
    [
        ("alpha-pinene", "beta-pinene"),
        ("(E)-beta-ocimene", "(Z)-beta-ocimene"),
        ("(+)-menthol", "(-)-menthol"),
        ("(+-)-menthol", "(+)-menthol"),
        ("(-+)-menthol", "(+)-menthol"),
        ("(+-)-menthol", "(-)-menthol"),
        ("(Ε)-β-ocimene", "(Ζ)-β-ocimene"),
        ("Ζ-cadinene", "Z-cadinene"),  # a Greek letter where no brackets stand
        ("(ζ)-cadinene", "(Z)-cadinene"),
        ("2-3-dimethyl", "23-dimethyl"),
        ("1-octen-3-ol", "1-octen-2-ol"),
        ("p-cymene", "o-cymene"),
        ("Base 1.2", "Base 1,2"),
        ("Süßgras", "Sübgras"),
        ("gamma-decalactone", "delta-decalactone"),
    ],
)
def test_two_names(left: str, right: str) -> None:
    assert name_key(left) != name_key(right)


def test_nearest() -> None:
    assert nearest("Citronela oil", ["Citronella oil", "Cedarwood oil"]) == "Citronella oil"
    assert nearest("α-Pinen", ["beta-pinene", "alpha-pinene"]) == "alpha-pinene"
    assert nearest("zzz", ["Citronella oil"]) is None
