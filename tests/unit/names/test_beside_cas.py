"""Names that nothing knows beside CAS numbers that somebody has."""

from __future__ import annotations

import pytest

from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook

FILE = "target.csv"


def settled(*rows: tuple[str, str], own: tuple[ConstituentLine, ...] = ()) -> tuple[list[str], Findings]:
    findings = Findings()
    book = NameBook.build(own, findings)
    names = [
        book.settle(text, Place(FILE, row, "constituent"), findings, cas).name
        for row, (text, cas) in enumerate(rows, start=2)
    ]
    book.say_taken(findings)
    return names, findings


@pytest.mark.parametrize(
    ("text", "cas", "looks", "known"),
    [
        ("a-pinene", "127-91-3", "alpha-pinene", "beta-pinene"),  # another spelling
        ("geraniool", "106-25-2", "geraniol", "nerol"),  # a slip
        ("linalool 97 %", "106-24-1", "linalool", "geraniol"),  # a known name inside
        ("methyl ether eugenol", "97-53-0", "methyl eugenol", "eugenol"),
    ],
)
def test_a_name_that_suggests_another_is_an_error(text: str, cas: str, looks: str, known: str) -> None:
    _, findings = settled((text, cas))
    assert [(found.severity, found.code, str(found)) for found in findings] == [
        (
            "error",
            "name-cas-disagree",
            f'target.csv, row 2, column cas: "{text}" looks like "{looks}", but {cas} is "{known}". Keep the one that '
            f'is meant; if it is a name of "{known}", put it among its synonyms in the constituents table.',
        )
    ]


@pytest.mark.parametrize(
    ("text", "cas", "known"),
    [
        ("a-pinene", "80-56-8", "alpha-pinene"),
        ("geraniool", "106-24-1", "geraniol"),
        ("linalool 97 %", "78-70-6", "linalool"),
        ("3-hexenol", "928-96-1", "(Z)-3-hexen-1-ol"),
    ],
)
def test_a_name_that_suggests_the_same_is_settled(text: str, cas: str, known: str) -> None:
    names, findings = settled((text, cas))
    assert (names, list(findings)) == ([known], [])


@pytest.mark.parametrize(
    ("text", "cas", "known"),
    [
        ("alpha-methyl citral", "5392-40-5", "citral"),
        ("linalool hydrate", "78-70-6", "linalool"),
        ("Unknown 1", "78-70-6", "linalool"),
        ("Rosamel", "78-70-6", "linalool"),
        ("carvone (S)-(-)", "6485-40-1", "l-carvone"),  # suggests the sum, of which this is a member
        ("linalool 10 % in dipropylene glycol", "78-70-6", "linalool"),
    ],
)
def test_a_name_that_suggests_nobody_is_settled_by_the_number_and_that_is_said(text: str, cas: str, known: str) -> None:
    names, findings = settled((text, cas))
    assert names == [known]
    (warning,) = list(findings)
    assert (warning.severity, warning.code) == ("warning", "taken-as")
    assert (warning.place.row, warning.place.column) == (2, "constituent")
    assert f"; taken as {known} by its CAS number. If it is one of its names, put it among" in warning.message


def test_it_is_said_once_a_column_with_the_pairs() -> None:
    names, findings = settled(("Rosamel", "78-70-6"), ("geraniol", "106-24-1"), ("Rosamel", ""), ("Rosamel", "78-70-6"))
    assert names == ["linalool", "geraniol", "linalool", "linalool"]
    assert [str(found) for found in findings] == [
        'target.csv, row 2, column constituent: nothing is called "Rosamel"; taken as linalool by its CAS number (so '
        "too in 2 more rows). If it is one of its names, put it among the synonyms of linalool in the constituents "
        "table; else mend the number."
    ]
    names, findings = settled(("Rosamel", "78-70-6"), ("Rosamelo bel", "106-24-1"))
    assert '(so too "Rosamelo bel" as geraniol). If' in findings.warnings[0].message
    invented = [("Amber one", "78-70-6"), ("Amber two", "106-24-1"), ("Briar", "106-25-2"), ("Cloud", "97-53-0")]
    _, findings = settled(*invented, ("Dusk", "93-15-2"), ("Elm", "470-82-6"))
    (warning,) = findings.warnings
    assert '(so too "Amber two" as geraniol, "Briar" as nerol, "Cloud" as eugenol and 2 more). If' in warning.message


def test_every_row_with_the_wrong_number_is_named() -> None:
    _, findings = settled(("a-pinene", "127-91-3"), ("a-pinene", "127-91-3"))
    assert [(found.code, found.place.row) for found in findings.errors] == [
        ("name-cas-disagree", 2),
        ("name-cas-disagree", 3),
    ]


def test_a_number_that_nobody_knows_leaves_a_constituent_of_its_own() -> None:
    names, findings = settled(("Rosamel", "106-99-0"))
    assert (names, list(findings)) == (["Rosamel"], [])
    names, findings = settled(("geraniool", "106-99-0"))
    assert names == ["geraniool"]
    assert [found.code for found in findings] == ["maybe-misspelt"]


def test_a_number_in_the_cell_of_the_name_counts_alike() -> None:
    names, findings = settled(("geraniool (106-25-2)", ""))
    assert [(found.code, found.place.column) for found in findings.errors] == [("name-cas-disagree", "constituent")]
    names, findings = settled(("Rosamel (78-70-6)", ""))
    assert names == ["linalool"]
    assert [found.message.split(";")[0] for found in findings if found.message.startswith("nothing")] == [
        'nothing is called "Rosamel"'
    ]


def test_what_the_constituents_table_calls_a_name_is_one() -> None:
    at = Place("constituents.csv", 2)
    own = (ConstituentLine(at, "beta-pinene", synonyms=("a-pinene",)),)
    names, findings = settled(("a-pinene", "127-91-3"), own=own)
    assert (names, list(findings)) == (["beta-pinene"], [])
    names, findings = settled(("Rosamel", ""), own=(ConstituentLine(at, "Rosamel", cas="78-70-6"),))
    assert (names, list(findings)) == (["Rosamel"], [])


def test_a_row_of_the_constituents_table_that_suggests_another_is_an_error_in_any_order() -> None:
    rows = (
        ConstituentLine(Place("constituents.csv", 2), "a-pinene", cas="127-91-3"),
        ConstituentLine(Place("constituents.csv", 3), "house pinene", cas="80-56-8"),
    )
    for own in (rows, rows[::-1]):
        _, findings = settled(own=own)
        (error,) = findings.errors
        assert (error.code, error.place) == ("name-cas-disagree", Place("constituents.csv", 2, "cas"))
        assert error.message.startswith('"a-pinene" looks like "alpha-pinene", but 127-91-3 is "beta-pinene".')


def test_names_met_in_rows_suggest_nobody_whatever_their_order() -> None:
    rows = [("garden ketal", ""), ("garden ketol", "78-70-6")]
    for order in (rows, rows[::-1]):
        names, findings = settled(*order)
        assert sorted(names) == ["garden ketal", "linalool"]
        assert not findings.errors
