"""Words of one meaning within names."""

from __future__ import annotations

import pytest

from reaccord.names.words import one_word


@pytest.mark.parametrize(
    ("tight", "said"),
    [
        ("decylaldehyde", "decanal"),
        ("undecylaldehyde", "undecanal"),
        ("capricaldehyde", "decanal"),
        ("caproicaldehyde", "hexanal"),
        ("caprylicaldehyde", "octanal"),
        ("laurylaldehyde", "dodecanal"),
        ("pelargonaldehyde", "nonanal"),
        ("oenanthal", "heptanal"),
        ("octylalcohol", "octanol"),
        ("caprylicalcohol", "octanol"),
        ("linalylalcohol", "linalool"),
        ("ethylcaproate", "ethylhexanoate"),
        ("ethylcaprate", "ethyldecanoate"),
        ("ethylcaprylate", "ethyloctanoate"),
        ("hexylisobutyrate", "hexylisobutanoate"),
        ("hexyl2methylpropanoate", "hexylisobutanoate"),
        ("hexyl3methylbutyrate", "hexylisopentanoate"),
        ("isoamylacetate", "isopentylacetate"),
        ("3methylbutylacetate", "isopentylacetate"),
        ("methyl2hydroxybenzoate", "methylsalicylate"),
        ("phenylmethylacetate", "benzylacetate"),
        ("dimethylsulphide", "dimethylsulfide"),
        ("1,8cineole", "1,8cineol"),
        ("indole", "indol"),
        ("benzoicaldehyde", "benzaldehyde"),
        ("phenethylalcohol", "2phenylethanol"),
    ],
)
def test_one_word(tight: str, said: str) -> None:
    assert one_word(tight) == one_word(said) == said


@pytest.mark.parametrize(
    ("left", "right"),
    [
        ("ethylcaproate", "ethylcaprate"),
        ("hexylbutyrate", "hexylisobutyrate"),
        ("hexyl2methylbutyrate", "hexyl3methylbutyrate"),
        ("phenylethanol", "2phenylethanol"),
        ("1phenylethylalcohol", "2phenylethylalcohol"),
        ("phenylmethylcarbinol", "benzylcarbinol"),
        ("diphenylmethane", "dibenzyl"),
        ("2propenylphenol", "allylphenol"),
        ("cinnamylalcohol", "amylalcohol"),
        ("1,2methylpropyl", "1,isobutyl"),
    ],
)
def test_two_words(left: str, right: str) -> None:
    assert one_word(left) != one_word(right)


def test_an_amyl_in_cinnamyl_stays() -> None:
    assert one_word("cinnamylacetate") == "cinnamylacetate"
