"""Known names inside others: asked about, unless a word of chemistry makes another substance."""

from __future__ import annotations

import pytest

from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.index import NameIndex
from reaccord.names.within import known_within

AT = Place("compositions.csv", 4, "part")


@pytest.mark.parametrize(
    ("text", "known"),
    [
        ("methyl eugenol?", ["methyl eugenol"]),
        ("(methyl eugenol)", ["methyl eugenol"]),
        ("methyl eugenol …", ["methyl eugenol"]),
        ("methyl eugenol 1", ["methyl eugenol"]),
        ("methyl eugenol b", ["methyl eugenol"]),
        ("methyl eugenol isomer", ["methyl eugenol"]),
        ("methyl eugenol derivative", ["methyl eugenol"]),
        ("total methyl eugenol", ["methyl eugenol"]),
        ("Methyleugenol, tentative", ["methyl eugenol"]),
        ("12 methyl eugenol", ["methyl eugenol"]),
        ("eugenol, methyl, natural", ["methyl eugenol"]),
        ("≥ 97 % linalool", ["linalool"]),
        ("linalool 97 %", ["linalool"]),
        ("linalool-97", ["linalool"]),
        ("linalool97", ["linalool"]),
        ("Eucalyptol BP", ["1,8-cineole"]),
        ("linalool ex bois de rose", ["linalool"]),
        ("eugenol ex clove leaf oil", ["eugenol"]),
        ("linalyl acetate isomer", ["linalyl acetate"]),
        ("geranyl acetate of spring", ["geranyl acetate"]),
        ("Hexenol cis-3 isomer", ["(Z)-3-hexen-1-ol"]),
        ("(E)-2-hexenal pure", ["(E)-2-hexenal"]),
        ("linalool 10 % in dipropylene glycol", ["dipropylene glycol", "linalool"]),
        ("rose oxide II", ["rose oxide"]),
    ],
)
def test_a_known_name_and_something_else(text: str, known: list[str]) -> None:
    index = NameIndex.builtin()
    assert index.find(text) is None
    assert list(known_within(index, text)) == known


@pytest.mark.parametrize(
    "text",
    [
        "linalool hydrate",
        "linalool dimer",
        "citral dibutyl acetal",
        "vanillin propylene glycol acetal",
        "menthone glyceryl ketal",
        "thymol butyl ether",
        "ethyl vanillin isobutyrate",
        "fenchone oxime",
        "limonene dioxide",
        "psi-limonene",
        "eugenol benzoate",
        "benzyl alcohol ether",
        "6-hydroxy linalool",
        "neryl linalool",
        "linalool, 6-hydroxy",
        "isomethyl eugenol",
        "germacrene D-5-ol",
        "caryophyllene-14-al",
        "8-geraniol",  # a locant
        "x-cymene",
        "zeta-cadinene",
        "camphor oil",
        "camphor oil white",
        "garden ketal",
        "garden alcohol",  # the short name of ethanol, and part of others
        "11-selinen-4-ol",
        "linaloolide",  # no whole word
        "caprylic/lauric triglyceride",
        "",
        "linalool " * 30,
    ],
)
def test_other_substances_stay(text: str) -> None:
    index = NameIndex.builtin()
    assert index.find(text) is None
    assert known_within(index, text) == ()


def test_what_stands_in_it_is_asked_about_and_its_own_row_is_the_cure() -> None:
    def told(*own: ConstituentLine) -> list[tuple[str, str]]:
        findings = Findings()
        book = NameBook.build(own, findings)
        assert book.settle("linalool 97 %", AT, findings).name == "linalool 97 %"
        return [(found.code, found.message) for found in findings]

    assert told() == [
        (
            "maybe-same",
            'nothing is called "linalool 97 %"; it is taken as a constituent of its own. If "linalool" is meant, write '
            "that. If it is another substance, give it a row in the constituents table.",
        )
    ]
    assert told(ConstituentLine(Place("constituents.csv", 2), "linalool 97 %")) == []


def test_names_of_the_study_count_names_met_in_its_rows_do_not() -> None:
    own = ConstituentLine(Place("constituents.csv", 2), "garden ketal")
    for rows, codes in (((own,), ["maybe-same"]), ((), [])):
        findings = Findings()
        book = NameBook.build(rows, findings)
        book.settle("garden ketal", AT, findings)
        book.settle("garden ketal isomer", AT, findings)
        assert [found.code for found in findings] == codes
