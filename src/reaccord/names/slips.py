"""Which name is one typing slip away, among thousands of names.

A slip is at one place, before or behind the middle of a name; so each name is kept under its length and either end, and
only names met there are compared. No slip is an edit that changes what a substance is:
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
    """Names by their length and either end.

    `spellings` are names by their key; it may grow (`enter` each new key) and shrink. What `before` has entered is
    not entered again.
    """

    def __init__(self, spellings: Mapping[str, str], before: Slips | None = None) -> None:
        self._spellings, self._before = spellings, before
        self._ends: dict[tuple[int, str, str], list[str]] = {}
        new = spellings.keys() - before._spellings.keys() if before else spellings.keys()
        words = frozenset(word for key in new for word in _WORD.findall(fold(spellings[key])))
        self._vocabulary: frozenset[str] = words | before._vocabulary if before else words
        for key in new:
            self.enter(key)

    def enter(self, key: str) -> None:
        """Take in a key that has become known."""
        for end in _ends(key, len(key)):
            self._ends.setdefault(end, []).append(key)

    def of(self, text: str) -> tuple[str, ...]:
        """Return the names that are one typing slip away, in order of letters; none if the text is known."""
        key = name_key(text)
        if len(key) < SHORTEST or key in self._spellings:
            return ()
        lengths = (len(key) - 1, len(key), len(key) + 1)
        near = {other for length in lengths for end in _ends(key, length) for other in self._kept_under(end)}
        known = {self._spellings[other] for other in near if other in self._spellings}
        return tuple(sorted(name for name in known if self._is_slip(text, name)))

    def _kept_under(self, end: tuple[int, str, str]) -> Iterator[str]:
        yield from self._ends.get(end, ())
        if self._before:
            yield from self._before._kept_under(end)

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


def _ends(key: str, length: int) -> Iterator[tuple[int, str, str]]:
    """Yield the first and the last letters that a name so long shares with the key if the slip is at its other end."""
    half = (length - 1) // 2  # two neighbours in the middle, swapped, are in one of the ends at most
    yield length, key[:half], ""
    yield length, "", key[len(key) - half :]


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
