"""Which known constituents a name may mean that no known name says.

Where a sign of rotation, a configuration, E/Z, a Greek letter or a locant stands more or less than in the known name,
the person may mean another substance: nothing is settled here, the names are only offered. So are characters that a
scanner, a keyboard or a wrong code page puts for others: Latin for Greek letters (accented ones where Greek was read as
Western), Greek within Latin words, figures for letters; and groups of atoms cut short (`M. eugenol`, `linalyl ac.`).
Common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

from reaccord.names.decoration import undress
from reaccord.names.index import NameIndex
from reaccord.names.key import fold
from reaccord.names.reading import LONGEST_READ, Reading, reading, without_locants
from reaccord.names.shuffled import in_another_order

_LETTERS = {"a": "alpha", "b": "beta", "p": "beta", "g": "gamma", "y": "gamma", "v": "gamma", "d": "delta"}
_LETTERS |= {"c": "cis", "t": "trans"}
_LONE_LETTER = re.compile(r"(?<![a-z])[abgdyvpct]\.?(?=[-\s])|(?<=[, ])[abgy]$")
_WRONG_PAGE = {"á": "alpha", "â": "beta", "ã": "gamma", "ä": "delta", "υ": "gamma"}
_WRONG_LETTER = re.compile(r"(?<![^\W\d_])[áâãäυ](?=[-\s])")
_LOOKS_LIKE = str.maketrans("αβγεηικλμνορτυχω", "abyenikluvoptuxw")
_GREEK_IN_WORD = re.compile(r"[α-ω](?=[a-z])|(?<=[a-z])[α-ω]")
_FIGURE_IN_WORD = re.compile(r"(?<=[a-z])[015](?=[a-z]|$)|(?<![\w,-])[01](?=[a-z]{3})|^1(?=-[a-z])")
_FIGURES = {"0": "o", "1": "l", "5": "s"}
_NO_PARA = re.compile(r"(?<![a-z-])(?<!p-)menth(?=a?n?e?-\d)")
_SHORT = (
    (re.compile(r"(?<![a-z])me?[-.\s]+(?=[a-z]{4})"), "methyl "),
    (re.compile(r"(?<![a-z])et[-.\s]+(?=[a-z]{4})"), "ethyl "),
    (re.compile(r"(?<=yl)[-.\s]+(?:ac|acet|oac)\.?$"), " acetate"),
)
_CAPITALS = str.maketrans("ΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABEZHIKMNOPTYX")
_GREEK = r"(alpha|beta|gamma|delta|epsilon|tau)"
_SCANNED = (
    (re.compile(r"(?<![a-z\d])[il|](?=,\d)|(?<=\d,)[il|](?=-)"), "1"),
    (re.compile(r"^([1-9])[ ;:'·]?([1-9])-(?=[a-z])"), r"\1,\2-"),
    (re.compile(r"(?<=-)[0o][1il|]$"), "ol"),
    (re.compile(rf"(?<![a-z])\.?{_GREEK}\.?-"), r"\1-"),
    (re.compile(rf"(?<![a-z\d,])\d-{_GREEK}-"), r"\1-"),
)
"""What a scanner makes of figures, commas and points, and a locant that stands twice, in the locant and the letter."""
_DOTTED_LOCANT = re.compile(r"^(\d{1,2})\.\s+")
_BEHIND = re.compile(r"(.+\S)\s*\(.{3,}\)")
_BARE_NUMBER = re.compile(r"(?:aldehyde|alcohol)c\d+")


def likely(index: NameIndex, name: str) -> tuple[str, ...]:
    """Return the names of the known constituents that may be meant, in order of name; none if none is like it."""
    if len(name) > LONGEST_READ:
        return ()
    readings = [reading(text) for text in _spelt_otherwise(name)]
    ways = (
        (said for said in readings),
        (other for said in (*readings, reading(name)) for other in _less_said(said)),
    )
    for way in ways:
        for said in way:
            found = index.read_as(said)
            if found:
                return tuple(sorted(found))
    said = reading(name)
    return (
        _more_said(index, said)
        or _needless_greek(index, said)
        or in_another_order(index, name)
        or _with_a_remark(index, name)
    )


def _spelt_otherwise(name: str) -> Iterator[str]:
    """Yield the name with other characters for those that are easily mistaken, all of them first, then each alone."""
    small = unicodedata.normalize("NFC", name).casefold()
    if not small.isascii():
        yield _WRONG_LETTER.sub(lambda found: _WRONG_PAGE[found[0]], small)
        yield _GREEK_IN_WORD.sub(lambda found: found[0].translate(_LOOKS_LIKE), small)
        yield name.translate(_CAPITALS)
    plain = fold(name)
    lone = list(_LONE_LETTER.finditer(plain))
    if lone:
        yield _LONE_LETTER.sub(lambda found: _LETTERS[found[0][0]], plain)
    if len(lone) > 1:
        for found in lone:
            yield plain[: found.start()] + _LETTERS[found[0][0]] + plain[found.end() :]
    figures = _FIGURE_IN_WORD.sub(lambda found: _FIGURES[found[0]], plain)
    if figures != plain:
        yield figures
    para = _NO_PARA.sub("p-menth", plain)
    if para != plain:
        yield para
    for other in (_DOTTED_LOCANT.sub(r"\1-", plain), undress(plain).name):
        if other != plain:
            yield other
    for short, word in (*_SCANNED, *_SHORT):
        if short.search(plain):
            yield short.sub(word, plain)
    yield name


def _less_said(said: Reading) -> Iterator[Reading]:
    """Yield what is left without a sign, with cis/trans for Z/E or the other way round, and without either."""
    plain = said._replace(turn="")
    sides = re.findall("cis|trans|[ez]", said.geometry)
    other = ",".join({"e": "trans", "z": "cis", "trans": "e", "cis": "z"}[side] for side in sides)
    if said.turn:
        yield plain
    if said.geometry:
        bare = ",".join(sides)
        for geometry in dict.fromkeys((bare, other)):
            yield said._replace(geometry=geometry)
            yield plain._replace(geometry=geometry)
        yield said._replace(geometry="")
        yield plain._replace(geometry="")


def _more_said(index: NameIndex, said: Reading) -> tuple[str, ...]:
    """Return those whose names say more than this one: E/Z, then Greek letters, locants, words (`aldehyde C-12`)."""
    left_open: tuple[set[str], ...] = (set(), set(), set())
    for known in index.kin(said):
        if known.rest == said.rest:
            if known.geometry and not said.geometry and known.greek == said.greek:
                left_open[0].update(index.read_as(known))
            elif known.greek and "epi" not in known.greek and not said.greek and known.geometry in ("", said.geometry):
                left_open[1].update(index.read_as(known))
        elif (
            known.greek == said.greek
            and said.geometry in ("", known.geometry)
            and known.rest[:1].isdigit()
            and said.rest == without_locants(said.rest)
        ):
            left_open[2].update(index.read_as(known))
    found = next((found for found in left_open if found), set())
    if _BARE_NUMBER.fullmatch(said.rest):
        found = found.union(*(index.read_as(known) for known in index.readings if known.rest.startswith(said.rest)))
    return tuple(sorted(found))


def _needless_greek(index: NameIndex, said: Reading) -> tuple[str, ...]:
    """Return who is known without a Greek letter; nobody if another Greek letter makes another constituent."""
    others = {known.greek for known in index.kin(said) if known.rest == said.rest and known != said}
    if not said.greek or "epi" in said.greek or any(others):
        return ()
    plain = said._replace(turn="", greek="")
    return tuple(sorted(index.read_as(plain) or index.read_as(plain._replace(geometry=""))))


def _with_a_remark(index: NameIndex, name: str) -> tuple[str, ...]:
    behind = _BEHIND.fullmatch(name)
    found = index.find(behind[1]) if behind else None
    return (found.name,) if found else ()
