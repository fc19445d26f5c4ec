"""What stands round a name: left out and said where that leads to a known one, kept where it does not."""

from __future__ import annotations

import pytest

from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names import decoration
from reaccord.names.book import NameBook
from reaccord.names.decoration import undress

AT = Place("target.csv", 4, "constituent")
NUMBER = decoration.CAS


def settled(text: str, *own: ConstituentLine, cas: str = "") -> tuple[str, list[tuple[str, str]]]:
    findings = Findings()
    book = NameBook.build(own, findings)
    name = book.settle(text, AT, findings, cas).name
    found = book.find(text)
    assert found is not None
    assert found.name == name, "what settles is found by others too"
    book.say_taken(findings)
    return name, [(found.code, found.message) for found in findings]


@pytest.mark.parametrize(
    ("text", "sentences"),
    [
        ("Methyl eugenol.", [decoration.MARK]),
        ("methyl eugenol :", [decoration.MARK]),
        ("methyl eugenol;", [decoration.MARK]),
        ("methyl eugenol ;,", [decoration.MARK]),
        ("`methyl eugenol`", [decoration.QUOTES]),
        ('"methyl eugenol"', [decoration.QUOTES]),
        ("“eugenol, methyl”", [decoration.QUOTES]),
        ("'methyl eugenol", [decoration.QUOTES]),
        ("1. methyl eugenol", [decoration.NUMBERING]),
        ("12) methyl eugenol", [decoration.NUMBERING]),
        ("(3) methyl eugenol", [decoration.NUMBERING]),
        ("[7] methyl eugenol", [decoration.NUMBERING]),
        ("#5 methyl eugenol", [decoration.NUMBERING]),
        ("• methyl eugenol", [decoration.NUMBERING]),
        ("methyl eugenol (93-15-2)", [NUMBER]),
        ("methyl eugenol [CAS 93-15-2]", [NUMBER]),
        ("methyl eugenol 93-15-2", [NUMBER]),
        ("methyl eugenol, CAS No. 93–15–2", [NUMBER]),
        ("methyl eugenol / 93-15-2", [NUMBER]),
        ("93-15-2 methyl eugenol", [NUMBER]),
        ("CAS 93-15-2: methyl eugenol", [NUMBER]),
        ("“1. methyl eugenol (93-15-2)”.", [decoration.QUOTES, decoration.MARK, NUMBER, decoration.NUMBERING]),
    ],
)
def test_decoration_is_left_out_and_said(text: str, sentences: list[str]) -> None:
    name, said = settled(text)
    assert name == "methyl eugenol"
    assert sorted(said) == sorted(("taken-as", f"{sentence}.") for sentence in sentences)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("3. octanol", "3. octanol"),  # a locant with a point?
        ("1. octen-3-ol", "1. octen-3-ol"),
        ("methyl eugenol...", "methyl eugenol..."),  # cut short?
        ("methyl eugenol …", "methyl eugenol …"),
        ("(methyl eugenol)", "(methyl eugenol)"),
        ("garden ketal.", "garden ketal."),
        ("1. garden ketal", "1. garden ketal"),
        ("garden ketal (12-34-5)", "garden ketal (12-34-5)"),  # no CAS number: a code perhaps
        ("methyl eugenol 1193-15-2", "methyl eugenol 1193-15-2"),
    ],
)
def test_what_may_belong_to_the_name_stays(text: str, name: str) -> None:
    if text == "methyl eugenol 1193-15-2":
        findings = Findings()
        NameBook.build((), findings).settle(text, AT, findings)
        assert [found.code for found in findings.errors] == ["bad-cas"]
        return
    found, said = settled(text)
    assert found == name
    assert "taken-as" not in [code for code, _ in said]


def test_it_is_said_once_a_column() -> None:
    findings = Findings()
    book = NameBook.build((), findings)
    for row, text in enumerate(["Linalool.", "geraniol;", "citral"], start=2):
        book.settle(text, Place("target.csv", row, "constituent"), findings)
    book.say_taken(findings)
    assert [str(found) for found in findings.warnings] == [
        'target.csv, row 2, column constituent: a mark such as "." or ";" behind a name: left out '
        "(so too in 1 more row)."
    ]


def test_a_number_that_is_another_substances_is_an_error() -> None:
    for text, cas in (("linalool (93-15-2)", ""), ("linalool (78-70-6)", "93-15-2"), ("linalool.", "93-15-2")):
        name, said = settled(text, cas=cas)
        assert name == "linalool"
        disagree = '"linalool" is known as CAS 78-70-6, but 93-15-2 is "methyl eugenol". Keep the one that is meant.'
        assert ("name-cas-disagree", disagree) in said
    assert settled("linalool (78-70-6)", cas="78-70-6") == ("linalool", [("taken-as", f"{NUMBER}.")])


def test_a_wrong_number_beside_a_known_name_is_an_error() -> None:
    _, said = settled("linalool (78-70-5)")
    assert said[0][0] == "bad-cas"
    assert '"78-70-5" is not a CAS number' in said[0][1]


def test_a_number_that_nothing_knows_joins_two_names() -> None:
    findings = Findings()
    book = NameBook.build((), findings)
    book.settle("garden ketal", AT, findings, "106-99-0")
    assert book.settle("rose ketal (106-99-0)", AT, findings).name == "garden ketal"
    assert book.settle("garden resin", AT, findings, "106-99-0").name == "garden ketal"
    assert not findings.errors
    book.settle("another ketal (106-97-8)", AT, findings, "106-99-0")
    assert [(found.code, found.message) for found in findings.errors] == [
        ("name-cas-disagree", '"another ketal (106-97-8)" stands beside CAS 106-99-0. Keep the number that is meant.')
    ]


def test_decorated_names_of_the_studys_own_table() -> None:
    at = Place("constituents.csv", 2)
    own = ConstituentLine(at, "linalool.", synonyms=("L",))
    assert settled("L", own) == (
        "linalool",
        [("taken-as", f"{decoration.MARK}.")],
    )
    own = ConstituentLine(at, "garden ketal")
    assert settled("Garden ketal.", own)[0] == "garden ketal"
    assert settled("garden ketal.", ConstituentLine(at, "garden ketal.")) == ("garden ketal.", [])
    _, said = settled("linalool", ConstituentLine(at, "linalool (93-15-2)"))
    assert said[0][0] == "name-cas-disagree"


@pytest.mark.parametrize("text", ["", ".", '"', "93-15-2", "(93-15-2)", "linalool", "2-octen-3-ol", "4'-ketal"])
def test_nothing_to_undress(text: str) -> None:
    assert undress(text) == (text, "", "", ())
