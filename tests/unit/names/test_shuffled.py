"""Known names whose words stand in another order: offered, never settled."""

from __future__ import annotations

import pytest

from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.index import NameIndex
from reaccord.names.shuffled import in_another_order

AT = Place("target.csv", 4, "constituent")


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("methyl ether eugenol", ["methyl eugenol"]),
        ("eugenol methyl-", ["methyl eugenol"]),
        ("eugenol (methyl)", ["methyl eugenol"]),
        ("eugenol-O-methyl ether", ["methyl eugenol"]),
        ("4-O-methyleugenol", ["methyl eugenol"]),
        ("methyl-O-eugenol", ["methyl eugenol"]),
        ("O-methyl thymol", ["thymol methyl ether"]),
        ("acetate geranyl", ["geranyl acetate"]),
        ("D germacrene", ["germacrene D"]),
        ("gamma-methyl ionone", ["alpha-isomethyl ionone", "methyl ionone"]),
        ("methyl ionone gamma", ["alpha-isomethyl ionone", "methyl ionone"]),
        ("γ-methylionone", ["alpha-isomethyl ionone", "methyl ionone"]),
    ],
)
def test_the_same_words(text: str, meant: list[str]) -> None:
    index = NameIndex.builtin()
    assert index.find(text) is None
    assert list(in_another_order(index, text)) == meant
    findings = Findings()
    assert NameBook.build((), findings).settle(text, AT, findings).name == text
    (warning,) = findings.warnings
    assert warning.code == "maybe-same"
    assert all(f'"{name}"' in warning.message for name in meant)


@pytest.mark.parametrize(
    "text",
    [
        "isomethyl eugenol",
        "delta-methyl ionone",
        "o-methyl cresol",  # ortho
        "o-eugenol",
        "ethyl m-anisate",  # no methyl
        "o-methyl acetophenone",
        "garden ketal",
        "3-octen-1-ol",  # figures count from where they stand
        "ol octen",
        "geranyl",
        "",
        "geranyl + acetate",
        "a b c d e geranyl acetate",
    ],
)
def test_other_words(text: str) -> None:
    assert in_another_order(NameIndex.builtin(), text) == ()


@pytest.mark.parametrize(
    "text", ["o-methyl eugenol", "O-methyleugenol", "O-Methyl eugenol", "eugenol, O-methyl", "eugenol, O-methyl-"]
)
def test_the_ether_by_its_oxygen_is_a_name_of_methyl_eugenol(text: str) -> None:
    found = NameIndex.builtin().find(text)
    assert found is not None
    assert found.name == "methyl eugenol"


def test_the_studys_own_names_are_offered_by_the_name_it_uses() -> None:
    findings = Findings()
    own = [
        ConstituentLine(Place("constituents.csv", 2), "garden rose ketal"),
        ConstituentLine(Place("constituents.csv", 3), "house ionone", cas="127-51-5"),
    ]
    book = NameBook.build(own, findings)
    book.settle("ketal garden rose", AT, findings)
    book.settle("gamma-methyl ionone", AT, findings)
    assert 'If "garden rose ketal" is meant' in findings.warnings[0].message
    assert 'If "house ionone" or "methyl ionone" is meant' in findings.warnings[1].message
