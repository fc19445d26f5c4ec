"""Materials that a name may have been meant as."""

from __future__ import annotations

import pytest

from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.near import Materials

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
AT = Place("compositions.csv", 4, "part")


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("Linalool 96", ["Linalool 97"]),
        ("Lavender oil", ["Lavender-type oil"]),
        ("Lavender-type oil lot V-3", ["Lavender-type oil"]),
        ("Lavender-type oil.", ["Lavender-type oil"]),
        ("lavendar typ oil", ["Lavender-type oil"]),
        ("Eucalyptol BP", ["Eucalyptol"]),
        ("garden ketal", ["Garden ketal 80"]),
        ("Meadow-sweet 85", ["Meadowsweet 90"]),
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
