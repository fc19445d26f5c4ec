"""Index names turned round; prefixes and locants in one order."""

from __future__ import annotations

import pytest

from reaccord.names.spoken import in_one_order, turned_round


@pytest.mark.parametrize(
    ("index", "spoken"),
    [
        ("acid, hexadecanoic", "hexadecanoic-acid"),
        ("acetate, linalyl", "linalyl acetate"),
        ("hexanoic acid, ethyl ester", "ethyl hexanoate"),
        ("hexanoic acid ethyl ester", "ethyl hexanoate"),
        ("acetic acid-n-butyl ester", "n-butyl acetate"),
        ("benzoic acid, 2-hydroxy-, methyl ester", "methyl 2-hydroxy-benzoate"),
        ("butanoic acid, 3-hexenyl ester, (z)-", "(z)-3-hexenyl butanoate"),
        ("3-hexen-1-ol, acetate, (z)-", "(z)-3-hexen-1-ol acetate"),
        ("1,6-octadien-3-ol, 3,7-dimethyl-", "3,7-dimethyl-1,6-octadien-3-ol"),
        ("terpineol,alpha", "alpha-terpineol"),
        ("1,6-octadien-3-ol,3,7-dimethyl-", "3,7-dimethyl-1,6-octadien-3-ol"),
        ("3-hexen-1-ol,1-benzoate", "3-hexen-1-ol benzoate"),
        ("aldehyde c-12, mna", "aldehyde c-12 mna"),
        ("acetate de linalyle", "linalyl acetate"),
        ("formate d'octyle", "octyl formate"),
    ],
)
def test_turned_round(index: str, spoken: str) -> None:
    assert turned_round(index) == spoken


@pytest.mark.parametrize(
    "name",
    [
        "trans,trans-2,4-decadienal",
        "alpha,alpha,4-trimethylbenzyl alcohol",
        "2, 4-decadienal",
        "alpha,p-dimethylstyrene",
    ],
)
def test_commas_between_locants_stay(name: str) -> None:
    assert turned_round(name) == name


@pytest.mark.parametrize(
    ("name", "ordered"),
    [
        ("n-decanal", "decanal"),
        ("normal octane", "octane"),
        ("decanal, n-", "decanal"),
        ("n-hexyl acetate", "hexyl acetate"),
        ("3-n-butylphthalide", "3-butylphthalide"),
        ("i-amyl acetate", "isoamyl acetate"),
        ("para-cymene", "p-cymene"),
        ("paracymene", "p-cymene"),
        ("cymene (p)", "p-cymene"),
        ("methyl para-anisate", "methyl p-anisate"),
        ("t-butyl alcohol", "tert-butyl alcohol"),
        ("hex-3-en-1-ol", "3-hexenol"),
        ("3-hexen-1-yl acetate", "3-hexenyl acetate"),
        ("nona-2,6-dienal", "2,6-nonadienal"),
        ("octan-3-ol", "3-octanol"),
        ("octanol-3", "3-octanol"),
        ("octan-1-ol", "octanol"),
        ("octan-3-yl acetate", "3-octyl acetate"),
        ("propane-1,2-diol", "1,2-propanediol"),
        ("terpinene-4-ol", "terpinen-4-ol"),
        ("p-menth-1-en-8-ol", "1-p-menthen-8-ol"),
        ("car-3-ene", "3-carene"),
        ("hexanol acetate", "hexyl acetate"),
        ("3-hexen-1-ol acetate", "3-hexenyl acetate"),
        ("1-octen-3-ol acetate", "1-octen-3-yl acetate"),
        ("linalool acetate", "linalyl acetate"),
        ("octyl alcohol acetate", "octyl acetate"),
        ("p-methoxybenzaldehyde", "4-methoxybenzaldehyde"),
        ("methyl o-aminobenzoate", "methyl 2-aminobenzoate"),
        ("c-12 mna aldehyde", "aldehyde c12 mna"),
        ("c10 aldehyde", "aldehyde c10"),
        ("aldehyde c-12 (lauric)", "aldehyde c-12 lauric"),
        ("pentyl methyl ketone", "methyl pentyl ketone"),
        ("methyl eugenol ether", "eugenol methyl ether"),
    ],
)
def test_in_one_order(name: str, ordered: str) -> None:
    assert in_one_order(name) == ordered


@pytest.mark.parametrize(
    "name",
    [
        "methyl n-methylanthranilate",  # the atom
        "n-butyl benzenesulfonamide",
        "alpha-n-methyl ionone",
        "n-menthyl acetate",  # no straight chain
        "1-octen-3-ol",
        "terpinen-1-ol",
        "p-methylguaiacol",  # two groups beside it: para to which?
        "2-octanol",
        "linalool 97",
        "base-2",
        "paraffin",
        "menthol",
    ],
)
def test_left_as_it_is(name: str) -> None:
    assert in_one_order(name) == name
