"""Names of classes and of the rest of an analysis are told from names of substances."""

from __future__ import annotations

import pytest

from reaccord.names.classes import is_class, is_rest
from reaccord.names.registry import read_registry


@pytest.mark.parametrize(
    "name",
    [
        "Monoterpene hydrocarbons",
        "monoterpenes",
        "Oxygenated monoterpenes (%)",
        "1. Sesquiterpene hydrocarbons",
        "OXYGENATED SESQUITERPENES:",
        "Hydrocarbon sesquiterpenes",
        "Sesquiterpenoids",
        "Diterpenes",
        "acyclic monoterpene alcohols",
        "Monoterpenic hydrocarbons",
        "Esters",
        "Aliphatic aldehydes",
        "Aromatic compounds",
        "Phenylpropanoids",
        "n-alkanes",
        "Non-terpenes",
        "Oxidised compounds",
        "Phenyl propanoids, %",
        "Monoterpenes oxygenated",
        "Oxygenated diterpenes (DO)",
        "Alcohols/phenols",
    ],
)
def test_classes(name: str) -> None:
    assert is_class(name)
    assert not is_rest(name)


@pytest.mark.parametrize(
    "name",
    [
        "unknown",
        "Unidentified",
        "not identified",
        "unidentified compounds",
        "Others",
        "n.i.",
        "Rest",
        "minor components",
        "unknown 1",
        "Unknown (m/z 119, 93, 69)",
        "unidentified (m/z 204)",
        "Others (O)",
        "NI",
    ],
)
def test_the_rest(name: str) -> None:
    assert is_rest(name)
    assert not is_class(name)


@pytest.mark.parametrize(
    "name",
    [
        "unknown sesquiterpene",
        "oxidation product",
        "methyl ionones",
        "amyl alcohols",
        "eudesmols",
        "geranyl esters",
        "fatty alcohol",
        "acetic acid",
        "ester gum",
        "furanoid linalool oxides",
    ],
)
def test_what_is_a_substance_or_may_be_one(name: str) -> None:
    assert not is_class(name)
    assert not is_rest(name)


def test_no_name_of_the_registry_is_a_class_or_a_rest() -> None:
    names = [name for known in read_registry() for name in (known.name, *known.synonyms)]
    assert len(names) > 1000
    assert [name for name in names if is_class(name) or is_rest(name)] == []
