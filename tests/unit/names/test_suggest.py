"""What names that nothing knows may have been meant as: offered, never settled."""

from __future__ import annotations

import pytest

from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.index import NameIndex
from reaccord.names.suggest import Hint, Materials, suggest

AT = Place("target.csv", 4, "constituent")
SHELF = (
    "Citral distilled",
    "Eucalyptol",
    "Eudesmol fraction",
    "Garden ketal 80",
    "Geranium base",
    "Geranyl butyrate 95",
    "Lavender-type oil",
    "Linalool 97",
    "Meadowsweet 90",
    "Rose-leaf oil",
)


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
        ("β-camphor", ["camphor"]),
        ("selinene", ["alpha-selinene", "beta-selinene", "delta-selinene"]),
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
        # the same words in another order
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
        ("methyl eugenol?", ["methyl eugenol"]),
        ("(methyl eugenol)", ["methyl eugenol"]),
        ("methyl eugenol …", ["methyl eugenol"]),
        # a locant more, and who is meant by cis-geranyl
        ("octen-3-ol", ["1-octen-3-ol"]),
        ("cis-geranyl formate", ["neryl formate"]),
    ],
)
def test_another_spelling(text: str, meant: list[str]) -> None:
    index = NameIndex.builtin()
    assert index.find(text) is None
    assert suggest(index, text) == Hint(tuple(meant), by="spelling")


@pytest.mark.parametrize(
    ("text", "known"),
    [
        ("methyl eugenol 1", "methyl eugenol"),
        ("methyl eugenol b", "methyl eugenol"),
        ("(E)-caryophyllene a", "beta-caryophyllene"),
        ("caryophyllene a", "beta-caryophyllene"),
        ("methyl eugenol isomer", "methyl eugenol"),
        ("methyl eugenol derivative", "methyl eugenol"),
        ("total methyl eugenol", "methyl eugenol"),
        ("Methyleugenol, tentative", "methyl eugenol"),
        ("12 methyl eugenol", "methyl eugenol"),
        ("eugenol, methyl, natural", "methyl eugenol"),
        ("≥ 97 % linalool", "linalool"),
        ("linalool 97 %", "linalool"),
        ("linalool-97", "linalool"),
        ("linalool97", "linalool"),
        ("linalool (natural)", "linalool"),
        ("aldehyde C-18 (so-called)", "gamma-nonalactone"),
        ("Eucalyptol BP", "1,8-cineole"),
        ("linalool ex bois de rose", "linalool"),
        ("eugenol ex clove leaf oil", "eugenol"),
        ("geranyl acetate of spring", "geranyl acetate"),
        ("Hexenol cis-3 isomer", "(Z)-3-hexen-1-ol"),
        ("(E)-2-hexenal pure", "(E)-2-hexenal"),
        ("rose oxide II", "rose oxide"),
    ],
)
def test_a_known_name_and_a_remark(text: str, known: str) -> None:
    index = NameIndex.builtin()
    assert index.find(text) is None
    assert suggest(index, text) == Hint((known,), by="remark")
    assert suggest(index, text, remarks=False).names == ()


@pytest.mark.parametrize(
    "text",
    [
        "zeta-cadinene",
        "epi-zonarene",
        "(E)-4-heptenal",
        "(2Z)-hexenal",
        "o-mentha-1,4-diene",
        "28-cineole",
        "2-δ-pinene",
        "octen-4-01",
        "2-octen-3-ol",
        "m-cymenol",
        "garden ketal",
        "unknown (2)",
        "",
        "a" * 200,
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
        "8-geraniol",
        "x-cymene",
        "camphor oil",
        "camphor oil white",
        "garden alcohol",
        "11-selinen-4-ol",
        "linaloolide",
        "caprylic/lauric triglyceride",
        "linalool " * 30,
        "delta-methyl ionone",
        "o-methyl cresol",
        "o-eugenol",
        "ethyl m-anisate",
        "o-methyl acetophenone",
        "3-octen-1-ol",
        "ol octen",
        "geranyl",
        "geranyl + acetate",
        "a b c d e geranyl acetate",
    ],
)
def test_other_substances_stay(text: str) -> None:
    index = NameIndex.builtin()
    assert index.find(text) is None
    assert suggest(index, text).names == ()


@pytest.mark.parametrize(
    ("text", "never"),
    [
        ("(E)-caryophyllene a", "alpha-humulene"),
        ("p-menthone", "p-menthane"),
        ("octen-3-ol", "3-octanol"),
        ("cubebol", "cubenol"),
        ("linolenic acid", "linoleic acid"),
        ("E,E-farnesal", "farnesol"),
        ("cis-geranyl acetate", "geranyl acetate"),
    ],
)
def test_no_hint_and_no_reading_changes_the_substance(text: str, never: str) -> None:
    findings = Findings()
    book = NameBook.build((), findings)
    found = book.settle(text, AT, findings)
    assert found.name != never
    assert all(f'"{never}"' not in said.message for said in findings)
    assert never not in book.asked().get(found.name, ())


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


@pytest.mark.parametrize(
    "text", ["o-methyl eugenol", "O-methyleugenol", "O-Methyl eugenol", "eugenol, O-methyl", "eugenol, O-methyl-"]
)
def test_the_ether_by_its_oxygen_is_a_name_of_methyl_eugenol(text: str) -> None:
    found = NameIndex.builtin().find(text)
    assert found is not None
    assert found.name == "methyl eugenol"


def test_words_in_another_order_are_offered_by_the_name_it_uses() -> None:
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


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("Linalool 96", ["Linalool 97"]),
        ("Lavender oil", ["Lavender-type oil"]),
        ("Lavender-type oil lot V-3", ["Lavender-type oil"]),
        ("Lavender-type oil.", ["Lavender-type oil"]),
        ("Eucalyptol BP", ["Eucalyptol"]),
        ("garden ketal", ["Garden ketal 80"]),
        ("oil", ["Lavender-type oil", "Rose-leaf oil"]),
    ],
)
def test_near_a_material(text: str, meant: list[str]) -> None:
    assert list(Materials(SHELF).alike(text)) == meant


@pytest.mark.parametrize(
    "text",
    [
        "citral diethyl acetal",  # no material of its own name beside a word of chemistry
        "eudesmol",  # one substance, not the fraction
        "geranyl valerate",  # alike as a whole, but a substance
        "eucalyptol oxide",
        "beta-bourbonene",
        "sandalwood",
        "",
        "97",
    ],
)
def test_near_nothing(text: str) -> None:
    assert Materials(SHELF).alike(text) == ()


def test_the_order_of_the_shelf_does_not_matter() -> None:
    assert Materials(SHELF[::-1]).alike("oil") == Materials(SHELF).alike("oil")


def test_the_material_is_offered_beside_the_constituent() -> None:
    findings = Findings()
    NameBook.build((), findings).settle("Linalool 96", AT, findings, extra_known=SHELF)
    NameBook.build((), findings).settle("Lavendre-type oil", AT, findings, extra_known=SHELF)
    assert [found.code for found in findings] == ["maybe-same", "maybe-misspelt"]
    said = [found.message for found in findings]
    assert 'If "linalool" or the material "Linalool 97" is meant, write that.' in said[0]
    assert said[1].endswith('Did you mean "Lavender-type oil"?')


def test_who_is_asked_about_is_kept_beside_the_name() -> None:
    findings = Findings()
    book = NameBook.build((), findings)
    for text in (
        "A-Humulene",
        "geraniool",
        "fenchyl alcohool",
        "garden ketal",
        "Geranium bass",
        "linalool",
        "farnesene",
    ):
        book.settle(text, AT, findings, extra_known=SHELF)
    assert book.asked() == {
        "A-Humulene": ("alpha-humulene",),
        "geraniool": ("geraniol",),
        "fenchyl alcohool": ("fenchol",),
        "farnesene": ("alpha-farnesene", "beta-farnesene"),
    }
