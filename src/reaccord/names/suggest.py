"""Which known name a name that nothing knows may have been meant as: offered, never settled.

In this order: what a table of rules makes of it (letters that a keyboard, a scanner or a wrong code page puts for
others, groups cut short); the same name with a sign, E/Z, a Greek letter or a locant more or less; the same words in
another order; a typing slip (`slips.py`); the name without words that only say which or how much; a bottle's name.
Common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterator
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from reaccord.names.decoration import undress
from reaccord.names.key import fold, name_key
from reaccord.names.reading import LONGEST_READ, Reading, reading, without_locants
from reaccord.names.slips import Slips

if TYPE_CHECKING:
    from reaccord.names.index import NameIndex

_GREEK = "alpha|beta|gamma|delta|epsilon|tau"
_LETTERS = {"a": "alpha", "b": "beta", "p": "beta", "g": "gamma", "y": "gamma", "v": "gamma", "d": "delta"}
_LETTERS |= {"c": "cis", "t": "trans"}
_LONE_LETTER = re.compile(r"(?<![a-z])([abgdyvpct])\.?(?=[-\s])|(?<=, )([abgy])$")
_LETTER_BEHIND = re.compile(r"(.*[a-z]{4}) ([abgy])")
_PAGE = {"á": "alpha", "â": "beta", "ã": "gamma", "ä": "delta", "υ": "gamma"}
_WRONG_PAGE = re.compile(r"(?<![^\W\d_])[áâãäυ](?=[-\s])")
_GREEK_IN_WORD = re.compile(r"[α-ω](?=[a-z])|(?<=[a-z])[α-ω]")
_LATIN = str.maketrans("αβγεηικλμνορτυχω", "abyenikluvoptuxw")
_CAPITALS = str.maketrans("ΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABEZHIKMNOPTYX")
_RULES = tuple(
    (re.compile(pattern), other)
    for pattern, other in (
        (r"(?<=[a-z])0(?=[a-z]|$)", "o"),
        (r"(?<=[a-z])1(?=[a-z]|$)|(?<![\w,-])1(?=[a-z]{3})|^1(?=-[a-z])", "l"),
        (r"(?<=[a-z])5(?=[a-z]|$)", "s"),
        (r"(?<![a-z\d])[il|](?=,\d)|(?<=\d,)[il|](?=-)", "1"),
        (r"^([1-9])[ ;:'·]?([1-9])-(?=[a-z])", r"\1,\2-"),
        (r"^(\d{1,2})\.\s+", r"\1-"),
        (r"(?<=-)[0o][1il|]$", "ol"),
        (rf"(?<![a-z\d,])(?:\d-|\.)?({_GREEK})\.?-", r"\1-"),
        (r"(?<![a-z-])(?<!p-)menth(?=a?n?e?-\d)", "p-menth"),
        (r"(?<![a-z])me?[-.\s]+(?=[a-z]{4})", "methyl "),
        (r"(?<![a-z])et[-.\s]+(?=[a-z]{4})", "ethyl "),
        (r"(?<=yl)[-.\s]+(?:ac|acet|oac)\.?$", " acetate"),
        (r"(?:^|^\d-|(?<=[a-z])-)o-(?=methyl|ethyl|acetyl)|(?<=yl)-o-(?=[a-z]{4})", " "),
        (r"^(?:cis|\(?z\)?)-geran(?=yl|iol|ial|ic)", "ner"),
        (r"^(?=.*gamma)(?=.*methyl ?ionone).*", "methyl ionone"),  # a mixture of the trade
        (r"^(?=.*gamma)(?=.*methyl ?ionone).*", "alpha-isomethyl ionone"),  # and most of it
    )
)
"""Patterns in the folded name and what was meant by them."""
_WORD = re.compile(r"[^\W\d_]+")
_IN_ITS_PLACE = re.compile(r"[\d+±/&;]")
_SIDE = re.compile("cis|trans|[ez]")
_NUMBERED = re.compile(r"(?:aldehyde|alcohol)c\d+")
_REMARK = (
    r"(?:\d+|[a-d]|i{1,3}|iv|isomers?|derivatives?|total|sum|max|min|tent|tentative(?:ly)?|tr|natural|nat|synthetic|pure|"
    r"purum|extra|fcc|bp|usp|ep|content|approx|ca|about|grade|racemic|fraction|type|unknown|unidentified|peak|no|nr|as)"
)
_BEFORE = re.compile(rf"^(?:\W*{_REMARK}[^\w(\-,'+]+)+(?=\S)|^\((?=[^()]*\)$)")
_BEHIND = re.compile(
    rf"(?:(?:[\W_]+|(?<=[a-z])(?=\d)){_REMARK}[\W_]*|\s+(?:ex|of|from)\s.*|\s+\([^()]+\)|[^\w)\]]+"
    r"|(?<=\w{4})\))$"
)
_SUBSTANCE = re.compile(
    r"\w*(?:[^aeiou]ene|an[eo]|ol|al|one|ate|yl|oxide|acid|ole|ine|diene|ether|ester|hydro|hydrate|alcohol|aldehyde)"
)


class Kin:
    """Known names by what they have in common with those that say more or less, or the same in another order."""

    def __init__(self, before: Kin | None = None) -> None:
        self._before = before  # what it has is not entered again
        self._readings: dict[str, dict[Reading, None]] = {}
        self._keys: dict[tuple[str, ...], dict[str, None]] = {}

    def enter(self, text: str, said: Reading) -> None:
        """Take in a name that has become known."""
        self._readings.setdefault(_loose(said.rest), {})[said] = None
        self._keys.setdefault(_words_in_order(text), {})[name_key(text)] = None

    def of(self, said: Reading) -> Collection[Reading]:
        """Return the readings that differ from this one in signs, geometry, Greek letters or locants alone."""
        own = self._readings.get(_loose(said.rest), {})
        return own | dict.fromkeys(self._before.of(said)) if self._before else own

    def in_another_order(self, text: str) -> Collection[str]:
        """Return the keys of the names of the same words; none of a name with figures: they count where they stand."""
        words = _words_in_order(text)
        if len(words) < 2:
            return ()
        own = self._keys.get(words, {})
        return own | dict.fromkeys(self._before.in_another_order(text)) if self._before else own


class Hint(NamedTuple):
    """What an unknown name may mean: known names, materials, and whether by another spelling, a slip or a remark."""

    names: tuple[str, ...] = ()
    materials: tuple[str, ...] = ()
    by: str = ""


def suggest(index: NameIndex, name: str, shelf: tuple[str, ...] = (), *, remarks: bool = True) -> Hint:
    """Return what a name that nothing knows may have been meant as; `remarks` says whether a remark may stand in it."""
    bottles = materials(shelf)
    if alike := spelt_otherwise(index, name):
        return Hint(alike, by="spelling")
    spelt = {index.find(slip): slip for slip in reversed(index.slips(name))}  # one spelling of each constituent
    slips = Hint(tuple(sorted(spelt.values())), bottles.slips.of(name), "slip")
    if slips.names or slips.materials:
        return slips
    bare = without_remarks(index, name) if remarks else None
    return Hint((bare,) if bare else (), bottles.alike(name), "remark")


def spelt_otherwise(index: NameIndex, name: str) -> tuple[str, ...]:
    """Return the constituents of whose names this may be another spelling, in order of name."""
    if len(name) > LONGEST_READ:
        return ()
    found: set[str] = set()
    for text in _by_rule(index, name):
        said = reading(text)
        found |= index.read_as(said) or (index.read_as(said._replace(turn="")) if said.turn else frozenset())
    said = reading(name)
    found = found or set(index.read_as(said)) or _less_or_more(index, said)
    found = found or {known for key in index.kin.in_another_order(name) if (known := index.lastingly(key))}
    return tuple(sorted(found))


def _by_rule(index: NameIndex, name: str) -> Iterator[str]:
    small = unicodedata.normalize("NFC", name).casefold()
    if not small.isascii():
        if _WRONG_PAGE.search(small):
            yield _WRONG_PAGE.sub(lambda found: _PAGE[found[0]], small)
            return
        yield _GREEK_IN_WORD.sub(lambda found: found[0].translate(_LATIN), small)
        yield name.translate(_CAPITALS)
    plain = fold(name)
    lone = list(_LONE_LETTER.finditer(plain))
    if lone:
        yield _LONE_LETTER.sub(lambda found: _LETTERS[found[1] or found[2]], plain)
    if len(lone) > 1:
        yield from (plain[: at.start()] + _LETTERS[at[1] or at[2]] + plain[at.end() :] for at in lone)
    behind = _LETTER_BEHIND.fullmatch(plain)
    if behind and not index.find_lasting(behind[1]):  # else a mark
        yield f"{_LETTERS[behind[2]]}-{behind[1]}"
    for pattern, other in _RULES:
        text, changed = pattern.subn(other, plain)
        if changed and text != plain:
            yield text
    bare = undress(plain).name
    if bare != plain:
        yield bare


def _less_or_more(index: NameIndex, said: Reading) -> set[str]:
    """Return those whose names say least more or less than this one."""
    kin = index.kin.of(said)
    letters = {known.greek for known in kin if known.rest == said.rest} - {"", said.greek}
    unlike = [(cost, known) for known in kin if (cost := _unlike(said, known, other_letters=bool(letters)))]
    least = min((cost for cost, _ in unlike), default=0)
    return {name for cost, known in unlike if cost == least for name in index.read_as(known)}


def _unlike(said: Reading, known: Reading, *, other_letters: bool) -> int:
    """Return how much more or less one says than the other; 0 if they contradict each other, or say the same."""
    cost = 0
    if said.turn != known.turn:
        if known.turn:
            return 0
        cost += 1
    if said.geometry != known.geometry:
        sides, others = _sides(said.geometry), _sides(known.geometry)
        if sides and others and sides != others:
            return 0
        cost += 2 if sides == others else 4
    if said.greek != known.greek:
        if (said.greek and known.greek) or "epi" in said.greek + known.greek or (said.greek and other_letters):
            return 0
        cost += 8
    if said.rest != known.rest:
        open_end = _NUMBERED.fullmatch(said.rest) and known.rest.startswith(said.rest)
        locants_more = known.rest[:1].isdigit() and (
            said.rest == without_locants(said.rest)
            or (said.rest[:1].isalpha() and re.fullmatch(r"[\d,]+", known.rest.removesuffix(said.rest)))
        )
        if not open_end and not locants_more:
            return 0
        cost += 16
    return cost


def _sides(geometry: str) -> list[str]:
    return [{"e": "trans", "z": "cis"}.get(side, side) for side in _SIDE.findall(geometry)]


def _loose(rest: str) -> str:
    numbered = _NUMBERED.match(rest)
    return numbered[0] if numbered else without_locants(rest)


def _words_in_order(text: str) -> tuple[str, ...]:
    plain = fold(text)
    return () if _IN_ITS_PLACE.search(plain) else tuple(sorted(_WORD.findall(plain)))


def without_remarks(index: NameIndex, name: str) -> str | None:
    """Return the constituent that is left when words that only say which or how much are taken off the ends."""
    text = fold(name) if len(name) <= LONGEST_READ else ""
    while text:
        for core in (text, _BEFORE.sub("", text)):
            if core != name and (found := index.find_lasting(core)):
                return found
        less = _BEHIND.sub("", text, count=1)
        text = less if less != text else ""
    return None


class Materials:
    """The names of a study's materials: found by a slip, or by their words, all of one name within the other."""

    def __init__(self, names: tuple[str, ...]) -> None:
        self.slips = Slips({name_key(name): name for name in names})
        self._words = {name: _words(name) for name in names}
        self._holding: dict[str, list[str]] = {}
        for name, words in self._words.items():
            for word in words:
                self._holding.setdefault(word, []).append(name)

    def alike(self, text: str) -> tuple[str, ...]:
        """Return the materials that may be meant, in order of name."""
        words = _words(text)
        near = {name for word in words for name in self._holding.get(word, ())}
        return tuple(sorted(name for name in near if self._same(words, self._words[name])))

    def _same(self, words: frozenset[str], others: frozenset[str]) -> bool:
        if others <= words:
            return not any(_SUBSTANCE.fullmatch(word) for word in words - others)
        return words <= others and (len(words) > 1 or not any(_SUBSTANCE.fullmatch(word) for word in words))


@lru_cache(maxsize=2)
def materials(names: tuple[str, ...]) -> Materials:
    """Return the materials of these names, made once for a study."""
    return Materials(names)


def _words(name: str) -> frozenset[str]:
    return frozenset(word for word in _WORD.findall(fold(name)) if len(word) > 1)
