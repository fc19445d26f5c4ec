"""Names that may mean a known constituent: doubted, never settled."""

from __future__ import annotations

import pytest

from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.index import NameIndex
from reaccord.names.likely import likely

AT = Place("target.csv", 4, "constituent")


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        # signs and configuration
        ("(+)-nerolidol", ["nerolidol"]),
        ("(1R,5R)-α-pinene", ["alpha-pinene"]),
        ("(4R)-carvone", ["carvone"]),
        ("carvone (S)-(-)", ["carvone"]),
        ("rac-cadinene", ["cadinene"]),
        # E/Z more or less, or under the other name
        ("(E)-geraniol", ["geraniol"]),
        ("(Z)-geraniol", ["nerol"]),
        ("(E)-sabinene hydrate", ["trans-sabinene hydrate"]),
        ("2-hexenal", ["(E)-2-hexenal"]),
        ("3-hexenol", ["(E)-3-hexen-1-ol", "(Z)-3-hexen-1-ol"]),
        ("3-hexenyl acetate", ["(Z)-3-hexenyl acetate"]),
        ("trans-cinnamyl acetate", ["cinnamyl acetate"]),
        # Greek letters and locants more or less
        ("β-linalool", ["linalool"]),
        ("selinene", ["alpha-selinene", "beta-selinene"]),
        ("phenylethanol", ["1-phenylethanol", "2-phenylethanol"]),
        ("undecanone", ["2-undecanone"]),
        ("aldehyde C-12", ["2-methylundecanal", "dodecanal"]),
        ("C-11 aldehyde", ["10-undecenal", "2-methyldecanal", "undecanal"]),
        # letters for others
        ("y-terpinene", ["gamma-terpinene"]),
        ("pinene, a", ["alpha-pinene"]),
        ("p-caryophyllene", ["beta-caryophyllene"]),
        ("υ-terpinene", ["gamma-terpinene"]),
        ("â-pinene", ["beta-pinene"]),
        ("ã-terpinene", ["gamma-terpinene"]),
        ("ä-cadinene", ["delta-cadinene"]),
        ("d-3-carene", ["3-carene"]),
        ("d-decalactone", ["delta-decalactone"]),
        ("λimonene", ["limonene"]),
        ("menthοl", ["menthol"]),  # an omicron
        ("gerani0l", ["geraniol"]),
        ("1inalool", ["linalool"]),
        ("1-menthol", ["l-menthol"]),
        ("t-2-hexenal", ["(E)-2-hexenal"]),
        ("c-3-hexenol", ["(Z)-3-hexen-1-ol"]),
        ("mentha-1,4-diene", ["gamma-terpinene"]),
        ("a. pinene", ["alpha-pinene"]),
        ("1. octen-3-ol", ["1-octen-3-ol"]),
        # groups of atoms cut short
        ("M. eugenol", ["methyl eugenol"]),
        ("Me-eugenol", ["methyl eugenol"]),
        ("et. maltol", ["ethyl maltol"]),
        ("linalyl ac.", ["linalyl acetate"]),
        # what a scanner reads, and a locant that the letter says already
        ("I,8-cineole", ["1,8-cineole"]),
        ("l,8-cineole", ["1,8-cineole"]),
        ("18-cineole", ["1,8-cineole"]),
        ("1 8-cineole", ["1,8-cineole"]),
        ("terpinen-4-01", ["terpinen-4-ol"]),
        ("terpinen-4-0l", ["terpinen-4-ol"]),
        ("gamma.-terpinene", ["gamma-terpinene"]),
        (".gamma-terpinene", ["gamma-terpinene"]),
        ("2-β-pinene", ["beta-pinene"]),
        ("germacrene Β", ["germacrene B"]),  # a Greek capital Beta
        ("Μenthol", ["menthol"]),  # a Greek capital Mu
        ("methyl ether eugenol", ["methyl eugenol"]),
        # a remark behind
        ("linalool (natural)", ["linalool"]),
        ("aldehyde C-18 (so-called)", ["gamma-nonalactone"]),
    ],
)
def test_likely(text: str, meant: list[str]) -> None:
    index = NameIndex.builtin()
    assert index.find(text) is None
    assert list(likely(index, text)) == meant


@pytest.mark.parametrize(
    "text",
    [
        "zeta-cadinene",  # another Greek letter is another substance
        "delta-selinene",
        "epi-zonarene",
        "(E)-4-heptenal",  # only the other side is known
        "(2Z)-hexenal",
        "o-mentha-1,4-diene",
        "28-cineole",
        "2-δ-pinene",
        "octen-4-01",
        "2-octen-3-ol",
        "linalool 97",  # for within.py
        "m-cymenol",
        "garden ketal",
        "unknown (2)",
        "",
        "a" * 200,
    ],
)
def test_nothing_is_like_it(text: str) -> None:
    assert likely(NameIndex.builtin(), text) == ()


def test_several_are_offered_at_once() -> None:
    findings = Findings()
    NameBook.build((), findings).settle("farnesene", AT, findings)
    assert [(f.code, f.message) for f in findings.warnings] == [
        (
            "maybe-same",
            'nothing is called "farnesene"; it is taken as a constituent of its own. If "alpha-farnesene" or '
            '"beta-farnesene" is meant, write that, or put it among its synonyms in the constituents table.',
        )
    ]
    NameBook.build((), findings).settle("damascone", AT, findings)
    assert (
        '"alpha-damascone" or "beta-damascone" or "delta-damascone" or another is meant' in findings.warnings[1].message
    )


@pytest.mark.parametrize("order", [("n-triacontane wax", "triacontane wax"), ("ketal, gamma", "γ-ketal")])
def test_two_spellings_of_a_name_that_nothing_knows_are_doubted_in_any_order(order: tuple[str, str]) -> None:
    for texts in (order, order[::-1]):
        findings = Findings()
        book = NameBook.build((), findings)
        for text in texts:
            book.settle(text, AT, findings)
        assert [f.code for f in findings.warnings] == ["maybe-same"]
        assert f'If "{texts[0]}" is meant' in findings.warnings[0].message


def test_the_studys_own_names_are_offered_too() -> None:
    findings = Findings()
    own = ConstituentLine(Place("constituents.csv", 2), "garden ketal", synonyms=("rose ketal",))
    NameBook.build([own], findings).settle("(+)-rose ketal", AT, findings)
    assert 'If "garden ketal" is meant' in findings.warnings[0].message
