"""What a name says: spellings of one name have one reading, names of two substances never."""

from __future__ import annotations

import pytest

from reaccord.names.reading import LONGEST_READ, Reading, reading, without_locants


@pytest.mark.parametrize(
    ("left", "right"),
    [
        # descriptors behind, in brackets, after a comma
        ("terpineol, alpha", "alpha-terpineol"),
        ("pinene, alpha-", "α-pinene"),
        ("caryophyllene, (E)-beta", "(E)-β-caryophyllene"),
        ("β-caryophyllene (E)", "(E)-beta-caryophyllene"),
        ("caryophyllene-(E)", "(E)-caryophyllene"),
        ("β-(E)-ocimene", "(E)-β-ocimene"),
        ("beta-ocimene E", "(E)-beta-ocimene"),
        ("ocimene, trans-beta", "trans-β-ocimene"),
        ("eudesmol, 10-epi-gamma", "10-epi-γ-eudesmol"),
        ("gamma-10-epi-eudesmol", "10-epi-gamma-eudesmol"),
        ("epi-globulol", "epiglobulol"),
        (".beta.-Pinene", "beta-pinene"),
        ("alfa-pinene", "alpha-pinene"),
        ("pinene <alpha->", "α-pinene"),
        ("Pinene<β>", "beta-pinene"),
        ("<alpha>-pinene", "α-pinene"),
        ("Ocimene <(Z)-beta->", "(Z)-β-ocimene"),
        ("(+-)-limonene", "(±)-limonene"),
        ("(Ζ)-β-ocimene", "(Z)-beta-ocimene"),  # a Greek capital Zeta
        ("carene, delta-3", "δ-3-carene"),
        ("(+-)-delta3-carene", "(±)-δ-3-carene"),
        ("cis-furanoid linalool oxide", "cis-linalool oxide (furanoid)"),
        ("linalool oxide trans-pyranoid", "trans-linalool oxide (pyranoid)"),
        # signs
        ("d-limonene", "(+)-limonene"),
        ("limonene, l-", "(-)-limonene"),
        ("d,l-menthol", "dl-menthol"),
        ("linalool (racemic)", "(±)-linalool"),
        ("(+)-(R)-limonene", "(R)-(+)-limonene"),
        # locants of double bonds
        ("(3Z)-hexenol", "(Z)-3-hexen-1-ol"),
        ("hexenol cis-3", "cis-3-hexenol"),
        ("hex-3-en-1-ol, (Z)-", "(Z)-3-hexenol"),
        ("2-trans-hexenal", "trans-2-hexenal"),
        ("2(E)-hexenal", "(E)-2-hexenal"),
        ("(2E)-hex-2-enal", "E-2-hexenal"),
        ("(2E,6Z)-nonadienal", "(E,Z)-2,6-nonadienal"),
        ("nona-2(E),6(Z)-dienal", "(E,Z)-2,6-nonadienal"),
        ("2,4-(E,E)-decadienal", "(E, E)-2,4-decadienal"),
        ("trans-2,cis-6-nonadienal", "trans,cis-2,6-nonadienal"),
        ("2-trans-6-cis-nonadienal", "trans,cis-2,6-nonadienal"),
        ("p-menth-1-en-8-yl acetate", "α-terpinyl acetate"),
        ("3,7-dimethylocta-1,6-dien-3-yl acetate", "linalyl acetate"),
        ("γ-octanolide", "gamma-octalactone"),
        ("γ-decanolactone", "gamma-decalactone"),
        ("(6E)-nerolidol", "(E)-nerolidol"),
        ("methyl (E)-cinnamate", "(E)-methyl cinnamate"),
        ("geranyl (E)-2-methyl-2-butenoate", "geranyl tiglate"),
        ("geranyl (2Z)-2-methylbut-2-enoate", "geranyl angelate"),
        ("alpha-methylbenzyl acetate", "1-phenylethyl acetate"),
        ("phenylethyl acetate, beta", "2-phenethyl acetate"),
    ],
)
def test_one_substance(left: str, right: str) -> None:
    assert reading(left) == reading(right)


@pytest.mark.parametrize(
    ("left", "right"),
    [
        ("alpha-pinene", "beta-pinene"),
        ("terpineol, alpha", "terpineol"),
        ("(E)-beta-farnesene", "(Z)-beta-farnesene"),
        ("(E)-2-hexenal", "2-hexenal"),
        ("(2E)-hexenal", "(3E)-hexenal"),
        ("(E)-2-hexenal", "trans-2-hexenal"),  # the registry says whether these are one
        ("cis-rose oxide", "(Z)-rose oxide"),
        ("trans,cis-farnesol", "cis,trans-farnesol"),
        ("(E,Z)-2,6-nonadienal", "(Z,E)-2,6-nonadienal"),
        ("(2E)-2,6-nonadienal", "(6E)-2,6-nonadienal"),
        ("(Z)-trans-alpha-bergamotol", "(Z)-cis-alpha-bergamotol"),
        ("(+)-menthol", "(-)-menthol"),
        ("dl-menthol", "menthol"),
        ("(R)-linalool", "(S)-linalool"),
        ("(1R,2S,5R)-menthol", "(1R,2R,5R)-menthol"),
        ("p-cymene", "o-cymene"),
        ("menthol, iso", "menthol, neo"),
        ("epi-alpha-cadinol", "alpha-cadinol"),
        ("7-epi-alpha-selinene", "10-epi-alpha-selinene"),
        ("linalool oxide (furanoid)", "linalool oxide (pyranoid)"),
        ("terpinen-1-ol", "terpinen-4-ol"),
        ("terpinen-1-ol", "terpinenol"),
        ("p-menth-2-en-1-ol", "p-menth-1-en-2-ol"),
        ("1-octen-3-ol", "3-octen-1-ol"),
        ("2-octanol", "1-octanol"),
        ("1-phenylethyl acetate", "2-phenylethyl acetate"),
        ("phenyl ethyl acetate", "ethyl phenylpropionate"),
        ("ar-curcumene", "(R)-curcumene"),
        ("phenol, m-ethyl-, acetate", "methyl phenylacetate"),
        ("hexadecanolide", "hexadecalactone"),
        ("m-ethylphenol", "methylphenol"),
        ("germacrene D", "(+)-germacrene"),
        ("3-hexenyl (E)-cinnamate", "(E)-3-hexenyl cinnamate"),
        ("linalool 97", "linalool"),
        ("2-methyl-2-butenyl acetate", "3-methyl-2-butenyl acetate"),
    ],
)
def test_two_substances(left: str, right: str) -> None:
    assert reading(left) != reading(right)


def test_the_parts_of_a_name() -> None:
    assert reading("(1R)-(+)-α-pinene") == Reading("+ 1r", "", "alpha", "pinene")
    assert reading("trans-sabinene hydrate") == Reading("", "trans", "", "sabinenehydrate")
    assert without_locants("2,6nonadienal") == "nonadienal"


@pytest.mark.parametrize("text", ["", "-", "(E)", "alpha", "α-", "(+)-(-)-", "E, E, E", ",,,", "((((", "cis", "2-"])
def test_what_is_no_name_is_read_too(text: str) -> None:
    assert isinstance(reading(text), Reading)


def test_a_whole_page_is_not_read() -> None:
    page = "alpha-" * LONGEST_READ
    assert reading(page).greek == ""
