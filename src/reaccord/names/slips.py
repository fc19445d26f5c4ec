"""Which name is one typing slip away, among thousands of names.

Two names a letter apart share what is left of them without one letter; so each name is kept under everything it is
without one of its letters, and only names met there are compared. The rule itself is `key.is_slip`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from reaccord.names.key import SHORTEST_SLIP, is_slip, name_key


class Slips:
    """Names by what is left of them without a letter.

    `spellings` are names by their key; it may grow (`enter` each new key) and shrink.
    """

    def __init__(self, spellings: Mapping[str, str]) -> None:
        self._spellings = spellings
        self._without: dict[str, list[str]] = {}
        for key in spellings:
            self.enter(key)

    def enter(self, key: str) -> None:
        """Take in a key that has become known."""
        for rest in _without_a_letter(key):
            self._without.setdefault(rest, []).append(key)

    def known(self, text: str) -> str | None:
        """Return the spelling of a name that is known as it stands."""
        return self._spellings.get(name_key(text))

    def of(self, text: str) -> str | None:
        """Return the name that is one typing slip away, the first in the alphabet; None if the text is known."""
        return None if name_key(text) in self._spellings else min(self.all_of(text), default=None)

    def all_of(self, text: str) -> frozenset[str]:
        """Return every other name that is one typing slip away."""
        key = name_key(text)
        if len(key) < SHORTEST_SLIP:
            return frozenset()
        near = {other for rest in _without_a_letter(key) for other in self._without.get(rest, ())}
        known = (self._spellings[other] for other in near if other in self._spellings)
        return frozenset(spelling for spelling in known if is_slip(text, spelling))


def _without_a_letter(key: str) -> Iterator[str]:
    """Yield the key, and the key without each of its letters; figures are never mistyped (`key.is_slip`)."""
    yield key
    for place, char in enumerate(key):
        if "a" <= char <= "z":
            yield key[:place] + key[place + 1 :]
