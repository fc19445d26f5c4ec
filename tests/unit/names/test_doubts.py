"""Names that nothing knows: what they may have been meant as, and what is no name of one constituent."""

from __future__ import annotations

import pytest

from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook

AT = Place("target.csv", 4, "constituent")


def settled(text: str, *own: ConstituentLine, cas: str = "") -> tuple[str, list[tuple[str, str, str]]]:
    findings = Findings()
    book = NameBook.build(own, findings)
    name = book.settle(text, AT, findings, cas).name
    return name, [(found.severity, found.code, found.message) for found in findings]


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("a-pinene", "alpha-pinene"),
        ("B-Pinene", "beta-pinene"),
        ("g-terpinene", "gamma-terpinene"),
        ("d-cadinene", "delta-cadinene"),
        ("(E)-b-ocimene", "(E)-beta-ocimene"),
        ("a-terpinyl acetate", "alpha-terpinyl acetate"),
        ("b caryophyllene", "beta-caryophyllene"),
    ],
)
def test_a_latin_letter_for_a_greek_one_is_asked_about(text: str, meant: str) -> None:
    name, said = settled(text)
    assert name == text
    assert said == [
        (
            "warning",
            "maybe-same",
            f'nothing is called "{text}"; it is taken as a constituent of its own. If "{meant}" is meant, write that, '
            "or put it among its synonyms in the constituents table.",
        )
    ]


@pytest.mark.parametrize("text", ["d-limonene", "germacrene D", "vitamin a acetate", "garden d-ketal"])
def test_latin_letters_that_are_no_greek_ones(text: str) -> None:
    assert settled(text)[1] == []


@pytest.mark.parametrize(
    ("text", "meant"),
    [("ß-caryophyllene", "beta-caryophyllene"), ("1.8-cineole", "1,8-cineole"), ("ρ-cymene", "p-cymene")],
)
def test_spellings_of_known_names(text: str, meant: str) -> None:
    assert settled(text) == (meant, [])


def test_footnote_numbers_behind_known_names_are_left_out_and_said_once() -> None:
    findings = Findings()
    book = NameBook.build((), findings)
    for row, text in enumerate(["Linalool (1)", "linalool [3]", "LINALOOL (a)"], start=2):
        assert book.settle(text, Place("target.csv", row, "constituent"), findings).name == "linalool"
    assert not list(findings)
    book.say_taken(findings)
    assert [str(found) for found in findings.warnings] == [
        "target.csv, row 2, column constituent: a number or letter in brackets behind a name: taken as a footnote mark "
        "and left out (so too in 2 more rows)."
    ]


def test_a_number_behind_a_name_that_nothing_knows_belongs_to_it() -> None:
    findings = Findings()
    book = NameBook.build((), findings)
    names = ["garden ketal (1)", "garden ketal (2)", "garden ketal"]
    for order in (names, names[::-1]):
        book = NameBook.build((), findings)
        assert [book.settle(text, AT, findings).name for text in order] == order
    assert not list(findings)


def test_a_name_of_the_study_with_a_footnote_number() -> None:
    own = ConstituentLine(Place("constituents.csv", 2), "garden ketal (2)")
    assert settled("Garden ketal (2)", own) == ("garden ketal (2)", [])
    assert settled("garden ketal [1]", ConstituentLine(Place("c.csv", 2), "garden ketal"))[0] == "garden ketal"
    findings = Findings()
    book = NameBook.build([ConstituentLine(Place("constituents.csv", 2), "linalool [1]", synonyms=("L",))], findings)
    found = book.find("L")
    assert found is not None
    assert found.name == "linalool"
    book.say_taken(findings)
    assert [(f.code, f.place.row) for f in findings] == [("taken-as", 2)]


@pytest.mark.parametrize("between", ["/", " / ", " and ", " & ", ", ", "; ", " + ", " or "])
def test_two_known_constituents_in_one_cell_are_an_error(between: str) -> None:
    _, said = settled(f"linalool{between}eugenol")
    assert said == [
        (
            "error",
            "joined",
            f'"linalool{between}eugenol" names 2 constituents. In a target several in one row are joined as '
            '"linalool + eugenol"; anywhere else each needs a row of its own. If it is one substance, give it a row in '
            "the constituents table.",
        )
    ]


@pytest.mark.parametrize("text", ["linalool/garden ketal", "cis/trans-rose oxide", "α/β-pinene"])
def test_perhaps_several_in_one_cell_are_a_warning(text: str) -> None:
    _, said = settled(text)
    assert [(severity, code) for severity, code, _ in said] == [("warning", "joined")]
    assert said[0][2].startswith(f'"{text}" is taken as one constituent. If it names several: in a target several in ')


def test_the_verdict_on_several_does_not_hang_on_the_order_of_rows() -> None:
    verdicts = []
    for order in (["garden ketal", "linalool/garden ketal"], ["linalool/garden ketal", "garden ketal"]):
        findings = Findings()
        book = NameBook.build((), findings)
        for text in order:
            book.settle(text, AT, findings)
        verdicts.append([(found.severity, found.code) for found in findings])
    assert verdicts[0] == verdicts[1] == [("warning", "joined")]


@pytest.mark.parametrize("text", ["caprylic/capric triglyceride", "sandalwood and rose", "musk & amber"])
def test_names_that_hold_a_slash_or_an_and(text: str) -> None:
    assert settled(text) == (text, [])


def test_what_the_study_says_is_one_substance_is_one() -> None:
    own = ConstituentLine(Place("constituents.csv", 2), "neral/geranial", members=("neral", "geranial"))
    assert settled("Neral/Geranial", own) == ("neral/geranial", [])
    assert settled("linalool/eugenol", cas="106-99-0")[1] == []
    assert [code for _, code, _ in settled("linalool/eugenol", cas="78-70-6")[1]] == ["joined"]


@pytest.mark.parametrize("text", ["undeclared", "Undeclared", "UN-DECLARED"])
def test_undeclared_is_no_constituent(text: str) -> None:
    reserved = '"undeclared" is no constituent: it stands for what nobody declares, and follows from the others.'
    said = ("error", "reserved-name", f"{reserved} Leave it out here.")
    assert settled(text)[1] == [said]
    assert settled("linalool", ConstituentLine(AT, text))[1] == [said]


def test_names_that_nothing_knows_are_said_once_a_file_where_they_stand_first() -> None:
    findings = Findings()
    book = NameBook.build([ConstituentLine(Place("constituents.csv", 2), "garden amber")], findings)
    rows = [
        ("t.csv", 9, "garden ketal"),
        ("t.csv", 3, "garden moss"),
        ("t.csv", 4, "garden amber"),
        ("t.csv", 5, "linalool"),
        ("c.csv", 7, "Garden Ketal"),
        ("c.csv", 6, "garden resin"),
        ("c.csv", 8, "garden rezin"),
        ("c.csv", 9, "linalool 97"),
        ("c.csv", 2, "garden resin"),
    ]
    for file, row, text in rows:
        book.settle(text, Place(file, row, "part"), findings)
    before = len(list(findings))
    book.say_unknown(findings)
    said = list(findings)[before:]
    assert [(found.severity, found.code, found.place) for found in said] == [
        ("warning", "unknown-names", Place("t.csv", 3, "part")),
        ("warning", "unknown-names", Place("c.csv", 2, "part")),
    ]
    assert said[0].message == (
        "2 names that nothing knows are taken as constituents of their own, and only limits on these very names count "
        "them: garden moss, garden ketal. Where one is known under another name, write that; else give it a row in the "
        "constituents table."
    )
    assert said[1].message.startswith('nothing is called "garden resin"; it is taken as a constituent of its own, and ')
    assert {name: [(at.file, at.row) for at in places] for name, places in book.unknown().items()} == {
        "garden ketal": [("t.csv", 9), ("c.csv", 7)],
        "garden moss": [("t.csv", 3)],
        "garden resin": [("c.csv", 2)],
        "garden rezin": [("c.csv", 8)],
        "linalool 97": [("c.csv", 9)],
    }


def test_many_unknown_names_are_cut_short() -> None:
    findings = Findings()
    book = NameBook.build((), findings)
    words = ["amber", "briar", "cloud", "dusk", "elm", "fjord", "glade", "heath"]
    for row, word in enumerate(words, start=2):
        book.settle(f"garden {word}", Place("t.csv", row), findings)
    book.say_unknown(findings)
    assert "8 names" in findings.warnings[0].message
    assert "garden elm, garden fjord and 2 more." in findings.warnings[0].message


def test_nothing_unknown_nothing_said() -> None:
    findings = Findings()
    sum_of_two = ConstituentLine(Place("constituents.csv", 2), "garden sum", members=("garden one", "garden two"))
    rows = [ConstituentLine(Place("constituents.csv", 3 + at), f"garden {it}") for at, it in enumerate(("one", "two"))]
    book = NameBook.build([sum_of_two, *rows], findings)
    for text in ("linalool", "Garden sum", "garden one", "n-decanal"):
        book.settle(text, AT, findings)
    book.say_unknown(findings)
    assert (list(findings), book.unknown()) == ([], {})
