"""Several names in one cell: where they are cut, and isomers that share a name."""

from __future__ import annotations

import pytest

from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.index import NameIndex
from reaccord.names.joined import sharing, split_joined


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("neral", ("neral",)),
        ("", ("",)),
        ("neral + geranial", ("neral", "geranial")),
        ("neral  +  geranial", ("neral", "geranial")),
        ("citral (geranial + neral)", ("citral (geranial + neral)",)),
        ("citral [geranial + neral] + linalool", ("citral [geranial + neral]", "linalool")),
        ("linalool + a (b (c + d) + e)", ("linalool", "a (b (c + d) + e)")),
        ("(+)-limonene + (-)-limonene", ("(+)-limonene", "(-)-limonene")),
        ("( + )-limonene", ("( + )-limonene",)),
        ("neral+geranial", ("neral+geranial",)),
        ("citral (a + b", ("citral (a", "b")),  # nothing closes it
        ("citral) + neral", ("citral)", "neral")),
        ("neral + ", ("neral", "")),
    ],
)
def test_a_plus_joins_outside_brackets(text: str, names: tuple[str, ...]) -> None:
    assert split_joined(text) == names


@pytest.mark.parametrize(
    "text",
    [
        "Citral (geranial + neral)",
        "Citral (neral + geranial)",
        "citral (neral/geranial)",
        "citral (neral and geranial)",
        "Citral (E-citral, Z-citral)",
        "menthol (l-menthol + d-menthol)",
    ],
)
def test_a_sum_with_its_members_in_brackets_is_the_sum(text: str) -> None:
    found = NameIndex.builtin().find(text)
    assert found is not None
    assert found.name == text.split(" (", maxsplit=1)[0].lower()


@pytest.mark.parametrize(
    "text",
    [
        "citral (geranial + linalool)",
        "citral (geranial)",
        "citral (geranial + neral + linalool)",
        "ocimene (alpha-ocimene + (Z)-beta-ocimene)",  # one is left out
        "geraniol (nerol + linalool)",
        "garden sum (geranial + neral)",
    ],
)
def test_other_lists_in_brackets_are_not(text: str) -> None:
    assert NameIndex.builtin().find(text) is None


def test_a_sum_with_its_members_agrees_with_its_number() -> None:
    findings = Findings()
    book = NameBook.build((), findings)
    at = Place("target.csv", 2, "constituent")
    assert book.settle("Citral (geranial + neral)", at, findings, "5392-40-5").name == "citral"
    book.say_taken(findings)
    assert not list(findings)
    book.settle("Citral (geranial + neral)", at, findings, "78-70-6")
    assert [found.code for found in findings.errors] == ["name-cas-disagree"]


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("α,β-pinene", ("α-pinene", "β-pinene")),
        ("alpha/beta pinene", ("alpha-pinene", "beta-pinene")),
        ("α- and β-pinene", ("α-pinene", "β-pinene")),
        ("(E)/(Z)-ocimene", ("E-ocimene", "Z-ocimene")),
        ("cis/trans-rose oxide", ("cis-rose oxide", "trans-rose oxide")),
        ("cis,trans-farnesol", ()),  # one isomer
        ("α,α-dimethylbenzyl alcohol", ()),
        ("pinene", ()),
    ],
)
def test_isomers_that_share_a_name(text: str, names: tuple[str, ...]) -> None:
    assert sharing(text) == names


@pytest.mark.parametrize(
    ("text", "joined"),
    [("α,β-pinene", "α-pinene + β-pinene"), ("cis/trans-rose oxide", "cis-rose oxide + trans-rose oxide")],
)
def test_two_isomers_in_one_name_are_asked_about(text: str, joined: str) -> None:
    findings = Findings()
    NameBook.build((), findings).settle(text, Place("target.csv", 2, "constituent"), findings)
    assert [(found.severity, found.code) for found in findings] == [("warning", "joined")]
    assert f'joined as "{joined}"' in findings.warnings[0].message


def test_a_letter_pair_that_names_nobody_is_no_question() -> None:
    findings = Findings()
    NameBook.build((), findings).settle("α,β-garden ketal", Place("target.csv", 2, "constituent"), findings)
    assert not list(findings)
