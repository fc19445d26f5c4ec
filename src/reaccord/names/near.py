"""Which materials a name that nothing knows may have been meant as: `Lavender oil` for `Lavender-type oil`.

Materials are told apart by words, so words count: all of one name within the other, figures left out. Where no word
looks like that of a substance, a name that is alike as a whole counts too.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from difflib import SequenceMatcher
from functools import lru_cache

from reaccord.names.decoration import undress
from reaccord.names.key import fold, name_key
from reaccord.names.slips import Slips
from reaccord.names.within import other_words

ALIKE = 0.75
"""Least likeness (difflib ratio) of the name of a material that is worth asking about."""
COMPARED = 5
"""Materials, those with most triples of letters in common, that are compared as a whole."""
LONGEST = 80
"""Characters of a name that is compared as a whole: a longer one is no bottle's."""

_WORD = re.compile(r"[^\W\d_]{2,}")
_SUBSTANCE = re.compile(r"\w*(?:[^aeiou]ene|an[eo]|ol|al|one|ate|yl|oxide|acid|ole|ine|diene)")


class Materials:
    """The names of a study's materials, to be found by words, by triples of letters and by slips."""

    def __init__(self, names: Iterable[str]) -> None:
        self._words = {name: _words(name) for name in names}
        self.slips = Slips({name_key(name): name for name in self._words})
        self._holding: dict[str, list[str]] = {}
        self._by_longest: dict[str, list[str]] = {}
        self._triples: dict[str, list[str]] = {}
        for name, words in self._words.items():
            for word in words:
                self._holding.setdefault(word, []).append(name)
            if words:
                self._by_longest.setdefault(_longest(words), []).append(name)
            for triple in _triples(name):
                self._triples.setdefault(triple, []).append(name)

    def alike(self, text: str) -> tuple[str, ...]:
        """Return the materials that may be meant, in order of name; none if none is like it."""
        same = self.slips.known(undress(text).name)
        if same:
            return (same,)
        words = _words(text)
        found = {name for word in words for name in self._by_longest.get(word, ()) if self._within(name, words)}
        if words and not (len(words) == 1 and _like_a_substance(words)):
            fewest = min((self._holding.get(word, []) for word in words), key=len)
            found.update(name for name in fewest if words <= self._words[name])
        if found or _like_a_substance(words) or len(text) > LONGEST:
            return tuple(sorted(found))
        return self._as_a_whole(text)

    def _within(self, name: str, words: frozenset[str]) -> bool:
        here = self._words[name]
        return here <= words and not other_words(words - here)

    def _as_a_whole(self, text: str) -> tuple[str, ...]:
        shared = Counter(name for triple in _triples(text) for name in self._triples.get(triple, ()))
        matcher = SequenceMatcher(b=name_key(text), autojunk=False)
        likeness = {}
        for name in sorted(sorted(shared), key=shared.__getitem__, reverse=True)[:COMPARED]:
            matcher.set_seq1(name_key(name))
            likeness[name] = matcher.ratio()
        best = max(likeness, key=likeness.__getitem__, default=None)
        return (best,) if best is not None and likeness[best] >= ALIKE else ()


@lru_cache(maxsize=2)
def materials(names: tuple[str, ...]) -> Materials:
    """Return the materials of these names, made once for a study."""
    return Materials(names)


def _words(name: str) -> frozenset[str]:
    return frozenset(_WORD.findall(fold(name)))


def _longest(words: frozenset[str]) -> str:
    return max(words, key=lambda word: (len(word), word))


def _like_a_substance(words: frozenset[str]) -> bool:
    return other_words(words) or any(_SUBSTANCE.fullmatch(word) for word in words)


def _triples(name: str) -> set[str]:
    key = name_key(name)
    return {key[at : at + 3] for at in range(len(key) - 2)}
