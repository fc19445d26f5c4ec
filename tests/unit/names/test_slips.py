"""Which name is one typing slip away."""

from __future__ import annotations

import random
import time
from collections.abc import Iterable

import pytest

from reaccord.names.index import NameIndex
from reaccord.names.key import is_slip, name_key
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
        ("Germacrane D", "germacrene D"),
        ("β-pinenne", "beta-pinene"),
        ("bwta-pinene", "beta-pinene"),
        ("1,8-cineol", "1,8-cineole"),
    ],
)
def test_a_slip(typed: str, meant: str) -> None:
    assert slips(KNOWN).of(typed) == meant


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
    assert slips(KNOWN).of(typed) is None


def test_the_slip_does_not_hang_on_the_order() -> None:
    names = ("citronellal", "citronellol")
    assert slips(names).of("citronellxl") == slips(names[::-1]).of("citronellxl") == "citronellal"


def one_by_one(text: str, names: Iterable[str]) -> str | None:
    """Say the same by the plain rule, each name compared."""
    known = list(names)
    if name_key(text) in {name_key(name) for name in known}:
        return None
    return min((name for name in known if is_slip(text, name)), default=None)


def mistyped(name: str, draw: random.Random) -> str:
    at = draw.randrange(len(name))
    letter = draw.choice("abelnoy13,- ")
    return draw.choice(
        (
            name[:at] + name[at + 1 :],
            name[:at] + letter + name[at:],
            name[:at] + letter + name[at + 1 :],
            name[:at] + name[at + 1 : at + 2] + name[at : at + 1] + name[at + 2 :],
        )
    )


@pytest.mark.parametrize("seed", range(4))
def test_the_same_as_comparing_each_with_each(seed: int) -> None:
    draw = random.Random(seed)
    known = draw.sample(sorted(NameIndex.builtin().spellings), 150)
    known += ["a" + "".join(draw.choice("abno1-") for _ in range(draw.randint(3, 7))) for _ in range(100)]
    names = {name_key(name): name for name in known}
    texts = [draw.choice(known) for _ in range(400)]
    texts = [mistyped(text, draw) for text in texts] + [mistyped(mistyped(text, draw), draw) for text in texts]
    quick = Slips(names)
    found = [quick.of(text) for text in texts]
    assert found == [one_by_one(text, names.values()) for text in texts]
    assert sum(slip is not None for slip in found) > 100


def test_all_names_one_slip_away() -> None:
    quick = slips(["nerol", "nerals", "neral"])
    assert quick.all_of("nerul") == {"nerol", "neral"}
    assert quick.all_of("neral") == {"nerol", "nerals"}
    assert (quick.of("nerul"), quick.of("neral")) == ("neral", None)
    assert quick.all_of("nero") == frozenset()


def test_names_may_come_and_go() -> None:
    names = {name_key("geraniol"): "geraniol"}
    quick = Slips(names)
    assert quick.of("geraniool") == "geraniol"
    names[name_key("nerolidol")] = "nerolidol"
    quick.enter(name_key("nerolidol"))
    del names[name_key("geraniol")]
    assert (quick.of("nerollidol"), quick.of("geraniool")) == ("nerolidol", None)


def test_thousands_of_names_take_no_time_each() -> None:
    draw = random.Random(1)
    texts = ["".join(draw.choice("kalomirutanevopi") for _ in range(18)) for _ in range(20_000)]
    start = time.process_time()
    quick = slips(texts)
    assert all(quick.of(text + "xyz") is None for text in texts)
    assert time.process_time() - start < 15  # each with each takes hours
