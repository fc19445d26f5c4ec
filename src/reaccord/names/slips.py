"""Which name is one typing slip away, among thousands of names.

Two names a letter apart share what is left of them without one letter; so each name is kept under everything it is
without one of its letters, and only names met there are compared. No slip is an edit that changes what a substance is:
an ending (-ol, -al, -one), a double bond (en, an), a word that is one itself (methyl, ethyl), a letter that stands
alone, a Greek letter, a figure. Common practice, no source.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping

from reaccord.names.key import fold, name_key

SHORTEST = 5
"""Letters of a name with a slip: of a shorter one, an abbreviation as often as a word, one letter is no slip."""

_WORD = re.compile(r"[a-z]+")
_ENDING = re.compile(r"(?:ol|al|one|[ae]ne|yl|yne|ate|ide)$")
_BOND = re.compile(r"[aey]n(?:$|ol|al|one|yl|ic|oic|oate|ate)")
_BOND_MORE = re.compile(r"(?<=[ae])n(?=ic|ate|ol|al|yl)")
_GREEK = frozenset(
    ("alpha", "beta", "gamma", "delta", "epsilon", "zeta", "eta", "theta", "iota", "tau", "omega", "psi")
)


class Slips:
    """Names by what is left of them without a letter.

    `spellings` are names by their key; it may grow (`enter` each new key) and shrink. What `before` has entered is
    not entered again.
    """

    def __init__(self, spellings: Mapping[str, str], before: Slips | None = None) -> None:
        self._spellings, self._before = spellings, before
        self._without: dict[str, list[str]] = {}
        new = {key: text for key, text in spellings.items() if before is None or key not in before._spellings}
        words = frozenset(word for text in new.values() for word in _WORD.findall(fold(text)))
        self._vocabulary: frozenset[str] = words | before._vocabulary if before else words
        for key in new:
            self.enter(key)

    def enter(self, key: str) -> None:
        """Take in a key that has become known."""
        for rest in _without_a_letter(key):
            self._without.setdefault(rest, []).append(key)

    def of(self, text: str) -> tuple[str, ...]:
        """Return the names that are one typing slip away, in order of letters; none if the text is known."""
        key = name_key(text)
        if len(key) < SHORTEST or key in self._spellings:
            return ()
        near = {other for rest in _without_a_letter(key) for other in self._kept_under(rest)}
        known = {self._spellings[other] for other in near if other in self._spellings}
        return tuple(sorted(name for name in known if self._is_slip(text, name)))

    def _kept_under(self, rest: str) -> Iterator[str]:
        yield from self._without.get(rest, ())
        if self._before:
            yield from self._before._kept_under(rest)

    def _is_slip(self, text: str, known: str) -> bool:
        if not _one_letter_apart(name_key(text), name_key(known)):
            return False
        words, others = Counter(_WORD.findall(fold(text))), Counter(_WORD.findall(fold(known)))
        here, there = (words - others).keys(), (others - words).keys()
        if any(len(word) == 1 for word in here | there) or (here and there and here | there <= _GREEK):
            return False
        if here and here <= self._vocabulary:
            return False
        return not any(_another(word, other) for word in here for other in there)


def _without_a_letter(key: str) -> Iterator[str]:
    """Yield the key, and the key without each of its letters; figures are never mistyped."""
    yield key
    for place, char in enumerate(key):
        if "a" <= char <= "z":
            yield key[:place] + key[place + 1 :]


def _one_letter_apart(left: str, right: str) -> bool:
    """Tell whether one has a letter more, less or wrong, or two neighbours swapped."""
    shorter = min(len(left), len(right))
    start = next((at for at in range(shorter) if left[at] != right[at]), shorter)
    end = next((at for at in range(shorter - start) if left[-1 - at] != right[-1 - at]), shorter - start)
    here, there = left[start : len(left) - end], right[start : len(right) - end]
    swapped = len(here) == len(there) == 2 and here == there[::-1]
    return _WORD.fullmatch(here + there) is not None and (swapped or max(len(here), len(there)) == 1)


def _another(word: str, known: str) -> bool:
    """Tell whether the edit between two words makes another substance: another ending, a bond more or less."""
    ending, other = _ENDING.search(word), _ENDING.search(known)
    if ending and (other is None or ending[0] != other[0]):
        return True
    if len(word) == len(known):
        bonds = {found.start() for found in _BOND.finditer(word)} & {found.start() for found in _BOND.finditer(known)}
        return any(word[at] != known[at] for at in bonds)
    shorter, longer = sorted((word, known), key=len)
    return any(longer[: at.start()] + longer[at.end() :] == shorter for at in _BOND_MORE.finditer(longer))
