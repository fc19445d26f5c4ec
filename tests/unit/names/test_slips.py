"""Which name is one typing slip away."""

from __future__ import annotations

import random
from collections.abc import Iterable

import pytest

from reaccord.names.key import name_key
from reaccord.names.slips import Slips


def slips(names: Iterable[str]) -> Slips:
    return Slips({name_key(name): name for name in names})


KNOWN = (
    "geraniol",
    "geranial",
    "p-cymene",
    "beta-pinene",
    "germacrene D",
    "1-octen-3-ol",
    "1,8-cineole",
    "DPG",
)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("geraniool", "geraniol"),  # one too many
        ("gerniol", "geraniol"),  # one too few
        ("gerqniol", "geraniol"),  # a wrong one
        ("gearniol", "geraniol"),  # neighbours swapped
        ("germaceene D", "germacrene D"),
        ("β-pinenne", "beta-pinene"),
        ("bwta-pinene", "beta-pinene"),
    ],
)
def test_a_slip(typed: str, meant: str) -> None:
    assert slips(KNOWN).of(typed) == (meant,)


@pytest.mark.parametrize(
    "typed",
    [
        "geraniol",  # itself
        "o-cymene",  # another substance: the letter stands alone
        "germacrene B",
        "zeta-pinene",  # another Greek letter, one typed letter away
        "1-octen-2-ol",  # a digit
        "1.8-cineole",  # a comma
        "l-geraniol",
        "DPM",  # too short to tell
        "grenaiol",  # two slips
        "patchoulol",
    ],
)
def test_no_slip(typed: str) -> None:
    assert slips(KNOWN).of(typed) == ()


def test_the_slip_does_not_hang_on_the_order() -> None:
    names = ("citronellal", "citronellol")
    assert slips(names).of("citronellxl") == slips(names[::-1]).of("citronellxl") == names


@pytest.mark.parametrize(
    ("typed", "known"),
    [
        ("octen-3-ol", "octan-3-ol"),
        ("p-menthone", "p-menthane"),
        ("farnesal", "farnesol"),
        ("linolenic acid", "linoleic acid"),
        ("methyl linolenate", "methyl linoleate"),
        ("germacrane D", "germacrene D"),
        ("thujyl alcohol", "thujol alcohol"),
        ("myrtanol", "myrtenol"),
        ("carvenol", "carveol"),
        ("hexadecenal", "hexadecanal"),
        ("camphol", "camphor"),
    ],
)
def test_an_edit_that_makes_another_substance_is_no_slip(typed: str, known: str) -> None:
    assert slips([known]).of(typed) == ()


def test_a_word_that_is_one_itself_is_no_slip_of_another() -> None:
    quick = slips(["methyl tiglate", "ethyl benzoate", "menthyl acetate"])
    assert quick.of("ethyl tiglate") == quick.of("methyl acetate") == ()
    assert quick.of("metyl tiglate") == ("methyl tiglate",)


def test_all_names_one_slip_away() -> None:
    quick = slips(["nerolid", "neralid", "neralids"])
    assert quick.of("nerulid") == ("neralid", "nerolid")
    assert quick.of("neralid") == ()
    assert slips(["nerol"]).of("nero") == slips(["DPG"]).of("DPM") == ()


def test_names_may_come_and_go() -> None:
    names = {name_key("geraniol"): "geraniol"}
    quick = Slips(names)
    assert quick.of("geraniool") == ("geraniol",)
    names[name_key("nerolidol")] = "nerolidol"
    quick.enter(name_key("nerolidol"))
    del names[name_key("geraniol")]
    assert (quick.of("nerollidol"), quick.of("geraniool")) == (("nerolidol",), ())


def test_thousands_of_names_are_not_compared_each_with_each() -> None:
    draw = random.Random(1)
    texts = ["".join(draw.choice("kalomirutanevopi") for _ in range(18)) for _ in range(6_000)]
    quick = slips(texts)
    assert all(quick.of(text + "xyz") == () for text in texts)  # each with each would never end
