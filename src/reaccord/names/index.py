"""Constituents under all their names."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from functools import cache
from types import MappingProxyType

from reaccord.domain.constituent import Constituent
from reaccord.findings import Place
from reaccord.names.cas import looks_like_cas, normalise_cas
from reaccord.names.key import name_key
from reaccord.names.registry import read_registry
from reaccord.names.text import without_number


class NameIndex:
    """Records by name, and the record that each name, synonym and CAS number leads to."""

    def __init__(self) -> None:
        self._known: dict[str, Constituent] = {}
        self._owner: dict[str, str] = {}
        self._spelling: dict[str, str] = {}
        self._lasting: frozenset[str] = frozenset()
        self.footnoted: dict[Place, None] = {}
        """Cells whose name is known only without the footnote number behind it."""

    @classmethod
    def builtin(cls) -> NameIndex:
        """Return a fresh index of the built-in constituents."""
        ready = _ready()
        index = cls()
        index._known = dict(ready._known)
        index._owner = dict(ready._owner)
        index._spelling = dict(ready._spelling)
        index.lasting()
        return index

    def lasting(self) -> None:
        """Note that what is known now was known before any table mentioned it, whatever the order of the rows."""
        self._lasting = frozenset(self._owner)

    @property
    def known(self) -> Mapping[str, Constituent]:
        """All records by the name used everywhere."""
        return MappingProxyType(self._known)

    @property
    def spellings(self) -> Collection[str]:
        """All names and synonyms as first written, CAS numbers left out."""
        return self._spelling.values()

    def find(self, text: str) -> Constituent | None:
        """Return who goes by this name, synonym or CAS number, a footnote number behind it aside, or None."""
        name = self._exactly(text)
        if name is None and text.endswith((")", "]")):
            bare = name_key(without_number(text)[0])
            name = self._owner.get(bare) if bare in self._lasting else None
        return self._known[name] if name else None

    def footnote(self, text: str) -> str:
        """Return the footnote number without which alone this name is known; or ""."""
        return "" if self._exactly(text) or self.find(text) is None else without_number(text)[1]

    def knew(self, text: str) -> bool:
        """Tell whether this name was known before any table mentioned it."""
        return name_key(text) in self._lasting or normalise_cas(text) in self._lasting

    def _exactly(self, text: str) -> str | None:
        return self._owner.get(name_key(text)) or self._owner.get(normalise_cas(text))

    def put(self, constituent: Constituent) -> Constituent:
        """Enter a record under all its names, in place of an earlier one of the same name."""
        self._known[constituent.name] = constituent
        for text in _names(constituent):
            key = name_key(text)
            self._owner[key] = constituent.name
            if not (text[:1].isdigit() and looks_like_cas(text)):
                self._spelling.setdefault(key, text)
        return constituent

    def drop(self, constituent: Constituent) -> None:
        """Take out a record and all its names."""
        del self._known[constituent.name]
        for text in _names(constituent):
            self._owner.pop(name_key(text), None)
            self._spelling.pop(name_key(text), None)

    def covers(self, name: str) -> frozenset[str]:
        """Return the constituent's own name and those of its members, theirs too."""
        found = self.find(name)
        covered: set[str] = set()
        waiting = [found.name if found else name]
        while waiting:
            here = waiting.pop()
            if here not in covered:
                covered.add(here)
                waiting.extend(self._known[here].members if here in self._known else ())
        return frozenset(covered)


def _names(constituent: Constituent) -> Iterator[str]:
    yield constituent.name
    if constituent.cas:
        yield constituent.cas
    yield from constituent.synonyms


@cache
def _ready() -> NameIndex:
    index = NameIndex()
    for constituent in read_registry():
        index.put(constituent)
    return index
