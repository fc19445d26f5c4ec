"""The book of names: finding and settling."""

from __future__ import annotations

import subprocess
import sys

import pytest

from reaccord.domain.constituent import Constituent
from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook

AT = Place("target.csv", 4, "constituent")


@pytest.fixture
def findings() -> Findings:
    return Findings()


@pytest.fixture
def book(findings: Findings) -> NameBook:
    return NameBook.build((), findings)


def found(book: NameBook, text: str) -> Constituent:
    constituent = book.find(text)
    assert constituent is not None, text
    return constituent


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Eucalyptol", "1,8-cineole"),
        ("benzyl carbinol", "2-phenylethanol"),
        ("d-Limonene", "limonene"),
        ("5989-27-5", "limonene"),
        ("α-pinene", "alpha-pinene"),
        ("106–24–1", "geraniol"),
        ("106-25-2", "nerol"),
        ("491-07-6", "isomenthone"),
        ("trans-Anethole", "(E)-anethole"),
        ("DPG", "dipropylene glycol"),
    ],
)
def test_find(book: NameBook, text: str, name: str) -> None:
    assert found(book, text).name == name


def test_find_nobody(book: NameBook) -> None:
    assert book.find("moonlight") is None
    assert book.find("999-99-4") is None


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("nerol", "geraniol"),
        ("neral", "geranial"),
        ("menthone", "isomenthone"),
        ("cis-rose oxide", "trans-rose oxide"),
        ("alpha-damascone", "beta-damascone"),
        ("(Z)-beta-ocimene", "(E)-beta-ocimene"),
        ("caryophyllene", "isocaryophyllene"),
        ("l-carvone", "d-carvone"),
        ("neryl acetate", "geranyl acetate"),
    ],
)
def test_what_the_trade_keeps_apart_stays_apart(book: NameBook, one: str, other: str) -> None:
    left, right = found(book, one), found(book, other)
    assert left.name != right.name
    assert left.cas != right.cas


def test_a_sum_covers_its_members_and_itself(book: NameBook) -> None:
    assert book.covers("Citral") == {"citral", "neral", "geranial"}
    assert book.covers("ocimene") == {
        "ocimene",
        "alpha-ocimene",
        "beta-ocimene",
        "(Z)-beta-ocimene",
        "(E)-beta-ocimene",
    }
    assert book.covers("geraniol") == {"geraniol"}
    assert book.covers("moonlight") == {"moonlight"}


def test_the_sums_that_hold_a_constituent(book: NameBook) -> None:
    assert book.sums_holding("neral") == ("citral",)
    assert book.sums_holding("cis-ocimene") == ("beta-ocimene", "ocimene")
    assert book.sums_holding("citral") == ()
    assert book.sums_holding("moonlight") == ()


def test_settle_a_known_name(book: NameBook, findings: Findings) -> None:
    assert book.settle("GERANIOL", AT, findings).name == "geraniol"
    assert book.settle("Eucalyptol", AT, findings, cas="470-82-6").name == "1,8-cineole"
    assert book.settle("limonene", AT, findings, cas="5989-27-5").name == "limonene"
    assert not list(findings)


def test_what_nothing_knows_is_accepted_and_remembered(book: NameBook, findings: Findings) -> None:
    first = book.settle("Garden  musk ketal", AT, findings)
    assert first == Constituent("Garden musk ketal")
    again = book.settle("garden musk-ketal", AT, findings, cas="106-99-0")
    assert again.name == first.name
    assert found(book, "106-99-0").name == first.name
    assert book.settle("gardenmusk ketal", AT, findings, cas="106-99-0").name == first.name
    assert not list(findings)
    assert book.known()[first.name].cas == "106-99-0"


def test_a_new_name_with_a_known_number_is_the_known_one(book: NameBook, findings: Findings) -> None:
    assert book.settle("rose alcohol", AT, findings, cas="106-22-9").name == "citronellol"
    assert book.settle("Rose Alcohol", AT, findings).name == "citronellol"
    assert not list(findings)


def test_name_and_number_disagree(book: NameBook, findings: Findings) -> None:
    assert book.settle("geraniol", AT, findings, cas="106-25-2").name == "geraniol"
    (error,) = findings.errors
    assert error.code == "name-cas-disagree"
    assert str(error) == (
        'target.csv, row 4, column cas: "geraniol" is known as CAS 106-24-1, but 106-25-2 is "nerol". '
        "Keep the one that is meant."
    )


def test_name_and_unknown_number_disagree(book: NameBook, findings: Findings) -> None:
    book.settle("geraniol", AT, findings, cas="106-99-0")
    (error,) = findings.errors
    assert str(error) == (
        'target.csv, row 4, column cas: "geraniol" is known as CAS 106-24-1, not as 106-99-0. '
        "Mend one of them; if both are the same substance, put 106-99-0 among its synonyms in the "
        "constituents table."
    )


@pytest.mark.parametrize(
    ("name", "cas", "kinship"),
    [
        ("anethole", "4180-23-8", '"(E)-anethole", only a part of "anethole"'),
        ("geranial", "5392-40-5", '"citral", which takes in more than "geranial"'),
    ],
)
def test_the_number_of_a_member_beside_its_sum_is_said(
    book: NameBook, findings: Findings, name: str, cas: str, kinship: str
) -> None:
    assert book.settle(name, AT, findings, cas=cas).name == name
    assert not findings.errors
    (warning,) = findings.warnings
    assert kinship in warning.message


def test_a_wrong_check_digit(book: NameBook, findings: Findings) -> None:
    assert book.settle("geraniol", AT, findings, cas="106-24-2").name == "geraniol"
    (error,) = findings.errors
    assert error.code == "bad-cas"
    assert str(error) == (
        'target.csv, row 4, column cas: "106-24-2" is not a CAS number: its check digit does not fit. Look it up again.'
    )


def test_a_number_where_the_name_stands(book: NameBook, findings: Findings) -> None:
    assert book.settle("106-24-1", AT, findings).name == "geraniol"
    assert not list(findings)
    book.settle("106-24-2", AT, findings)
    assert [(e.code, e.place.column) for e in findings.errors] == [("bad-cas", "constituent")]


def test_no_number_at_all(book: NameBook, findings: Findings) -> None:
    book.settle("geraniol", AT, findings, cas="unknown")
    assert '"unknown" is not a CAS number: it should look like 106-24-1.' in findings.errors[0].message


def test_a_blank_name(book: NameBook, findings: Findings) -> None:
    assert book.settle(" ", AT, findings, cas="106-24-1").name == "geraniol"
    assert not list(findings)
    book.settle(" ", AT, findings)
    assert [e.code for e in findings.errors] == ["name-missing"]


def test_a_typing_slip_is_a_warning(book: NameBook, findings: Findings) -> None:
    settled = book.settle("Geraniool", AT, findings)
    assert settled.name == "Geraniool"
    (warning,) = findings.warnings
    assert warning.code == "maybe-misspelt"
    assert str(warning) == (
        'target.csv, row 4, column constituent: nothing is called "Geraniool"; it is taken as a constituent '
        'of its own. Did you mean "geraniol"?'
    )


def test_a_slip_from_a_material_or_from_an_earlier_name(book: NameBook, findings: Findings) -> None:
    book.settle("Geranium bass", AT, findings, extra_known=("Geranium base",))
    book.settle("garden ketal", AT, findings)
    book.settle("garden kettal", AT, findings)
    assert [w.message.split("mean ")[1] for w in findings.warnings] == ['"Geranium base"?', '"garden ketal"?']


@pytest.mark.parametrize("text", ["1", "2", "005", " 12. ", "3-4"])
def test_a_number_is_no_name(book: NameBook, findings: Findings, text: str) -> None:
    book.settle(text, AT, findings)
    NameBook.build([ConstituentLine(Place("constituents.csv", 2), text)], findings)
    assert [e.code for e in findings.errors] == ["number-name"] * 2
    assert (
        "If it only counts the rows, take that column out, or head the column of the names"
        in findings.errors[0].message
    )


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("No. of identified constituents", "no-constituent"),
        ("Yields (%)", "no-constituent"),
        ("Total identified", "no-constituent"),
        ("Unknown 1", "rest-row"),
        ("Unknown (m/z 119)", "rest-row"),
        ("NI", "rest-row"),
    ],
)
def test_what_counts_or_adds_up_is_no_constituent(book: NameBook, findings: Findings, text: str, code: str) -> None:
    book.settle(text, AT, findings)
    assert [e.code for e in findings.errors] == [code]


@pytest.mark.parametrize("name", ["germacrene E", "x-cymene", "2-octen-3-ol", "zeta-cadinene"])
def test_other_isomers_are_no_slips(book: NameBook, findings: Findings, name: str) -> None:
    assert book.settle(name, AT, findings).name == name
    assert not list(findings)


def test_nearest(book: NameBook) -> None:
    assert book.nearest("citronelol") == "citronellol"
    assert book.nearest("qqqq") is None


def test_two_books_do_not_share(findings: Findings) -> None:
    one, other = NameBook.build((), findings), NameBook.build((), findings)
    one.settle("moonlight", AT, findings)
    assert other.find("moonlight") is None


def test_the_book_opens_without_numpy() -> None:
    """Start-up is part of the product."""
    code = (
        "import sys, reaccord.names.book as b\n"
        "from reaccord.findings import Findings\n"
        "b.NameBook.build((), Findings())\n"
        "print(*{'numpy', 'pandas', 'scipy'} & set(sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "\n"


@pytest.mark.parametrize(
    "text", ["(+)-Nerolidol", "(−)-linalyl acetate", "(±)-linalool oxide", "dl-borneol", "(-)-β-caryophyllene"]
)
def test_a_sign_of_rotation_is_asked_about(text: str) -> None:
    book, findings = NameBook.build((), Findings()), Findings()
    if book.find(text):
        pytest.skip("the registry knows this one")
    book.settle(text, Place("t.csv", 2, "constituent"), findings)
    assert [found.code for found in findings.warnings] == ["maybe-same"]
