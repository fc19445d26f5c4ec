"""Finding a record by what its name says, and what stays apart."""

from __future__ import annotations

import pytest

from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.index import NameIndex

AT = Place("target.csv", 4, "constituent")


def own(name: str, **more: tuple[str, ...]) -> ConstituentLine:
    return ConstituentLine(Place("constituents.csv", 2), name, **more)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("n-decanal", "decanal"),
        ("decyl aldehyde", "decanal"),
        ("C-10 aldehyde", "decanal"),
        ("n-nonanal", "nonanal"),
        ("n-octyl acetate", "octyl acetate"),
        ("n-hexadecanoic acid", "palmitic acid"),
        ("β-caryophyllene (E)", "beta-caryophyllene"),
        ("caryophyllene, (Z)-beta", "isocaryophyllene"),
        ("(3Z)-hexenol", "(Z)-3-hexen-1-ol"),
        ("Hexenol cis-3", "(Z)-3-hexen-1-ol"),
        ("hex-3-en-1-yl acetate, (Z)-", "(Z)-3-hexenyl acetate"),
        ("terpineol, alpha", "alpha-terpineol"),
        ("terpinene-4-ol", "terpinen-4-ol"),
        ("acetic acid, phenylmethyl ester", "benzyl acetate"),
        ("benzoic aldehyde", "benzaldehyde"),
        ("menthone, iso", "isomenthone"),
        ("menthol (l)", "l-menthol"),
        ("citronellyl ester of formic acid, formate", ""),
        # both mirror images are in the record
        ("α-pinene (1R)", "alpha-pinene"),
        ("(1R)-(+)-α-pinene", "alpha-pinene"),
        ("R-(-)-linalool", "linalool"),
        ("linalool (racemic)", "linalool"),
        ("d,l-menthol", "menthol"),
        ("dl-borneol", "borneol"),
        # the registry keeps them apart, or knows one only
        ("(R)-menthol", ""),
        ("(1R,5S)-α-pinene", ""),
        ("(-)-pulegone", ""),
        ("(+)-nerolidol", ""),
        # two names of one substance, and of two
        ("1,8-cineole (eucalyptol)", "1,8-cineole"),
        ("eucalyptol/1,8-cineole", "1,8-cineole"),
        ("Eucalyptol / 1,8-Cineole", "1,8-cineole"),
        ("methyl chavicol (=estragole)", "estragole"),
        ("methyl chavicol = estragole", "estragole"),
        ("Estragole (methyl chavicol)", "estragole"),
        ("linalool (78-70-6)", "linalool"),
        ("linalool (geraniol)", ""),
        ("Linalool 97", ""),
        ("terpinenol", ""),
    ],
)
def test_found_by_what_it_says(text: str, name: str) -> None:
    found = NameIndex.builtin().find(text)
    assert (found.name if found else "") == name


def test_a_footnote_number_behind_another_spelling() -> None:
    index = NameIndex.builtin()
    found = index.find("n-decanal (1)")
    assert found is not None
    assert found.name == "decanal"
    assert index.footnote("n-decanal (1)") == "(1)"
    assert index.footnote("caryophyllene (E)") == ""
    assert index.find("3-methylbutanol-(3)") is None  # a locant


def test_known_before_any_table() -> None:
    index = NameIndex.builtin()
    assert index.knew("n-decanal")
    assert not index.knew("garden ketal")


def test_what_a_table_entered_is_not_found_by_reading() -> None:
    findings = Findings()
    book = NameBook.build((), findings)
    book.settle("garden ketal", AT, findings)
    assert book.find("ketal, garden") is None


def test_the_studys_own_names_are_found_in_other_spellings() -> None:
    book = NameBook.build([own("γ-garden lactone", synonyms=("n-octyl gardenate",))], Findings())
    for text in ("garden lactone, gamma", "octyl gardenate"):
        found = book.find(text)
        assert found is not None
        assert found.name == "γ-garden lactone"


def test_an_own_row_in_another_spelling_is_about_the_built_in_record() -> None:
    findings = Findings()
    book = NameBook.build([own("n-decanal", synonyms=("garden aldehyde",))], findings)
    found, other = book.find("garden aldehyde"), book.find("decanal")
    assert found is not None
    assert found is other
    assert found.cas == "112-31-2"
    assert not list(findings)


def test_mirror_images_that_a_study_keeps_apart_are_doubted() -> None:
    findings = Findings()
    book = NameBook.build([own("limonene", members=("d-limonene", "l-limonene"))], findings)
    found = book.find("d-limonene")
    assert found is not None
    assert found.name == "d-limonene"
    book.settle("(4S)-limonene", AT, findings)
    assert [f.code for f in findings.warnings] == ["maybe-same"]


def test_a_spelling_that_was_settled_is_a_synonym_from_then_on() -> None:
    book = NameBook.build((), Findings())
    assert "n-Decanal" not in book.known()["decanal"].synonyms
    for text in ("n-Decanal", "N-decanal", "n-decanal (2)", "decanal"):
        assert book.settle(text, AT, Findings()).name == "decanal"
    assert book.known()["decanal"].synonyms[-1] == "n-Decanal"


def test_two_spellings_of_one_row_are_one_constituent() -> None:
    findings = Findings()
    book = NameBook.build((), findings)
    names = {book.settle(text, AT, findings).name for text in ("decanal", "n-decanal", "aldehyde C10", "112-31-2")}
    assert names == {"decanal"}
    assert not list(findings)
