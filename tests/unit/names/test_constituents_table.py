"""The study's own constituents table: what it adds and overrides, and what is wrong with it."""

from __future__ import annotations

from typing import Any

from reaccord.domain.constituent import Constituent
from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook


def row(number: int, constituent: str, **cells: Any) -> ConstituentLine:
    return ConstituentLine(at=Place("constituents.csv", number), constituent=constituent, **cells)


def build(*rows: ConstituentLine) -> tuple[NameBook, Findings]:
    findings = Findings()
    return NameBook.build(rows, findings), findings


def found(book: NameBook, text: str) -> Constituent:
    constituent = book.find(text)
    assert constituent is not None, text
    return constituent


def test_a_new_constituent() -> None:
    book, findings = build(
        row(2, "garden ketal", cas="106-99-0", synonyms=("GK",), formula="C12H20O2", benzene_rings=0)
    )
    assert not list(findings)
    for text in ("Garden Ketal", "gk", "106-99-0"):
        assert found(book, text) == Constituent("garden ketal", "106-99-0", ("GK",), "C12H20O2", 0)


def test_blanks_keep_what_is_built_in() -> None:
    book, findings = build(row(2, "Geraniol", synonyms=("house rose alcohol",)))
    assert not list(findings)
    record = found(book, "house rose alcohol")
    assert (record.name, record.cas, record.formula, record.benzene_rings) == (
        "Geraniol",
        "106-24-1",
        "C10H18O",
        0,
    )
    assert found(book, "trans-geraniol") is record
    assert "geraniol" not in book.known()


def test_cells_override() -> None:
    book, _ = build(row(2, "benzyl benzoate", carrier=True), row(3, "dipropylene glycol", carrier=False))
    assert found(book, "benzyl benzoate").carrier
    assert not found(book, "DPG").carrier


def test_the_studys_name_is_used_everywhere() -> None:
    book, findings = build(row(2, "Eucalyptol"), row(3, "geranial (E-citral)", cas="141-27-5"))
    assert not list(findings)
    assert found(book, "1,8-cineole").name == "Eucalyptol"
    assert book.covers("citral") == {"citral", "neral", "geranial (E-citral)"}
    assert book.sums_holding("geranial") == ("citral",)


def test_a_synonym_alone_says_who_is_meant() -> None:
    book, findings = build(row(2, "house rose alcohol", synonyms=("citronellol",)))
    assert not list(findings)
    assert found(book, "106-22-9").name == "house rose alcohol"


def test_another_number_overrides_and_is_said() -> None:
    book, findings = build(row(2, "geraniol", cas="106-99-0"))
    assert found(book, "geraniol").cas == "106-99-0"
    assert found(book, "106-24-1").name == "geraniol"
    (warning,) = findings.warnings
    assert str(warning) == (
        'constituents.csv, row 2, column cas: "geraniol" is built in as CAS 106-24-1; this study uses 106-99-0 for it.'
    )


def test_a_further_number_among_the_synonyms() -> None:
    book, findings = build(row(2, "geraniol", synonyms=("106-99-0",)))
    assert not list(findings)
    assert found(book, "106-99-0").cas == "106-24-1"


def test_the_same_one_twice() -> None:
    _, findings = build(row(2, "geraniol"), row(5, "trans-geraniol"), row(6, "x", cas="106-24-1"))
    assert [(e.code, e.place.row) for e in findings.errors] == [
        ("constituent-twice", 5),
        ("constituent-twice", 6),
    ]
    assert str(findings.errors[0]) == (
        'constituents.csv, row 5, column constituent: "trans-geraniol" is the same constituent as "geraniol" '
        "in row 2. Keep one of the two rows."
    )


def test_the_same_new_name_twice() -> None:
    _, findings = build(row(2, "garden ketal"), row(3, "Garden Ketal"))
    assert str(findings.errors[0]) == (
        'constituents.csv, row 3, column constituent: "Garden Ketal" is already in row 2. Keep one of the two rows.'
    )


def test_name_and_number_disagree() -> None:
    book, findings = build(row(2, "geraniol", cas="106-25-2"))
    (error,) = findings.errors
    assert error.code == "name-cas-disagree"
    assert str(error) == (
        'constituents.csv, row 2, column cas: "geraniol" is "geraniol", but CAS 106-25-2 is "nerol". '
        "Keep the one that is meant."
    )
    assert found(book, "106-25-2").name == "nerol"


def test_a_name_claimed_by_two() -> None:
    book, findings = build(
        row(2, "garden ketal", cas="106-99-0", synonyms=("nerol",)),
        row(3, "second ketal", synonyms=("Garden ketal",)),
    )
    assert [(e.code, e.place.row, e.place.column) for e in findings.errors] == [("name-claimed-twice", 3, "synonyms")]
    assert str(findings.errors[0]) == (
        'constituents.csv, row 3, column synonyms: "Garden ketal" is claimed for "second ketal" and already '
        'names "garden ketal" (row 2). A name can mean one constituent only.'
    )
    assert found(book, "nerol").name == "garden ketal"


def test_a_synonym_of_somebody_else() -> None:
    book, findings = build(row(2, "geraniol", synonyms=("nerol",)))
    assert [e.code for e in findings.errors] == ["name-claimed-twice"]
    assert found(book, "nerol").cas == "106-25-2"


def test_bad_numbers_and_formulas() -> None:
    book, findings = build(row(2, "geraniol", cas="106-24-2", synonyms=("106-25-9",), formula="C10H18(OH)"))
    assert [(e.code, e.place.column) for e in findings.errors] == [
        ("bad-cas", "cas"),
        ("bad-cas", "synonyms"),
        ("bad-formula", "formula"),
    ]
    assert found(book, "geraniol").formula == "C10H18O"


def test_a_new_sum_and_members_nobody_knows() -> None:
    book, findings = build(row(2, "garden ketals", members=("Garden ketal A", "eucalyptol")))
    assert not list(findings)
    assert book.covers("garden ketals") == {"garden ketals", "Garden ketal A", "1,8-cineole"}
    assert found(book, "garden ketal a").cas == ""


def test_members_nobody_knows_are_asked_about_and_listed() -> None:
    book, findings = build(row(2, "sum a", members=("linalool", "neroool")), row(3, "sum b", members=("linaloool",)))
    assert [(w.code, w.place.row, w.place.column) for w in findings.warnings] == [("maybe-misspelt", 3, "members")]
    assert {name: [(at.row, at.column) for at in places] for name, places in book.unknown().items()} == {
        "neroool": [(2, "members")],
        "linaloool": [(3, "members")],
    }
    book.say_unknown(findings)
    assert [(w.code, w.place.row) for w in findings.warnings] == [("maybe-misspelt", 3), ("unknown-names", 2)]
    assert 'nothing is called "neroool"' in findings.warnings[1].message


def test_a_member_is_found_by_another_spelling_of_a_row_further_down() -> None:
    book, findings = build(row(2, "ketals", members=("ketal, gamma",)), row(3, "γ-ketal"))
    assert (list(findings), book.unknown()) == ([], {})
    assert book.covers("ketals") == {"ketals", "γ-ketal"}


def test_members_may_stand_further_down() -> None:
    book, findings = build(row(2, "ketals", members=("ketal one",)), row(3, "Ketal One", cas="106-99-0"))
    assert not list(findings)
    assert book.covers("ketals") == {"ketals", "Ketal One"}


def test_a_sum_that_holds_itself() -> None:
    _, findings = build(row(2, "ketals", members=("other ketals",)), row(3, "other ketals", members=("ketals",)))
    assert [(e.code, e.place.row) for e in findings.errors] == [
        ("sum-holds-itself", 2),
        ("sum-holds-itself", 3),
    ]
    assert '"ketals" is a member of itself, by way of other ketals.' in findings.errors[0].message


def test_a_study_may_keep_apart_what_is_built_in_as_one() -> None:
    book, findings = build(
        row(2, "Limonenes", synonyms=("limonene",), members=("d-limonene", "l-limonene")),
        row(3, "limonene", members=("d-limonene", "l-limonene")),
    )
    assert [e.code for e in findings.errors] == ["constituent-twice"]
    book, findings = build(
        row(2, "Limonene", members=("d-limonene", "l-limonene")),
        row(3, "l-limonene", cas="5989-54-8", synonyms=("(-)-limonene",)),
    )
    assert not list(findings)
    assert book.covers("dipentene") == {"Limonene", "d-limonene", "l-limonene"}
    assert found(book, "(−)-limonene") == Constituent("l-limonene", "5989-54-8", ("(-)-limonene",), "C10H16", 0)
    assert found(book, "5989-27-5").name == "Limonene"


def test_a_mistyped_row_is_a_warning() -> None:
    _, findings = build(row(2, "geraniool", formula="C10H18O"))
    assert [(w.code, w.place.column) for w in findings.warnings] == [("maybe-misspelt", "constituent")]
