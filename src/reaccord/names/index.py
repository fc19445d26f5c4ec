"""Constituents under all their names.

A name is looked for as it is written, then without a footnote number, then by what a chemist reads in it
(`reading.py`), then as one name with another of the same substance, or all members of the sum, in brackets behind it,
last without what stands round it (`decoration.py`). Only names that were known before any table mentioned them are
found in any way but as written, and by reading only where all of one reading lead to one record: so nothing hangs on
the order of rows, and a doubt stays one (`doubts.py`).
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from functools import cache
from types import MappingProxyType

from reaccord.domain.constituent import Constituent
from reaccord.findings import Place
from reaccord.names.cas import looks_like_cas, normalise_cas
from reaccord.names.decoration import Plain, undress
from reaccord.names.joined import BETWEEN
from reaccord.names.key import name_key
from reaccord.names.reading import Reading, reading
from reaccord.names.registry import read_registry
from reaccord.names.registry_readings import registry_readings
from reaccord.names.slips import Slips
from reaccord.names.suggest import Kin
from reaccord.names.text import without_number

_TWO_NAMES = re.compile(r"(.+\S)\s*\(\s*(?:=\s*)?(.{3,})\)")
_EITHER_NAME = re.compile(r"([^/=]{3,}?)\s*[/=]\s*([^/=]{3,})")
_ONE_CENTRE = re.compile(r"\d{0,2}[rs]")


class NameIndex:
    """Records by name, and the record that each name, synonym and CAS number leads to."""

    def __init__(self, builtin: NameIndex | None = None) -> None:
        """Begin empty, or with all that another index knows: what is made of its names to find them is shared."""
        self._builtin = builtin
        self._known: dict[str, Constituent] = dict(builtin._known) if builtin else {}
        self._owner: dict[str, str] = dict(builtin._owner) if builtin else {}
        self._spelling: dict[str, str] = dict(builtin._spelling) if builtin else {}
        self._sums: dict[str, Constituent] = dict(builtin._sums) if builtin else {}
        self._lasting: frozenset[str] = builtin._lasting if builtin else frozenset()
        self._unread: list[str] = []  # names whose readings are still to be entered
        self._read: dict[Reading, dict[str, None]] = {}
        self._kin: Kin = Kin(builtin._kin if builtin else None)
        self._slips: Slips | None = None
        self.taken: dict[tuple[Place, str], None] = {}
        """Cells whose name is known only without what stands round it, and a sentence of what was left out."""
        self.by_number: dict[Place, tuple[str, str]] = {}
        """Cells whose name nothing knew and that were settled by their CAS number: the name, and who that is."""
        self.numbered: dict[str, frozenset[str]] = {}
        """Keys of names that only a CAS number beside them has made known, and whom each suggested by itself."""
        self.unknown: dict[str, dict[str, Place]] = {}
        """Names that nothing knew before a table mentioned them: the first cell in each file."""
        self.doubted: set[str] = set()
        """Those of them that have a finding of their own."""
        self.asked: dict[str, tuple[str, ...]] = {}
        """Names that may mean known constituents, and which; of those that may mean a material alone, none."""

    @classmethod
    def builtin(cls) -> NameIndex:
        """Return a fresh index of the built-in constituents."""
        return cls(_ready())

    def lasting(self) -> None:
        """Note that what is known now was known before any table mentioned it, whatever the order of the rows."""
        self._lasting = frozenset(self._owner)

    def mention(self, name: str, place: Place) -> None:
        """Note where a name stands that nothing knows; a later mention in an earlier row is the first."""
        if name in self.unknown:
            first = self.unknown[name].setdefault(place.file, place)
            if (place.row or 0) < (first.row or 0):
                self.unknown[name][place.file] = place

    @property
    def known(self) -> Mapping[str, Constituent]:
        """All records by the name used everywhere."""
        return MappingProxyType(self._known)

    @property
    def spellings(self) -> Collection[str]:
        """All names and synonyms as first written, CAS numbers left out."""
        return self._spelling.values()

    def find(self, text: str) -> Constituent | None:
        """Return who goes by this name, synonym or CAS number, in any spelling of the trade, or None."""
        name = self._exactly(text) or self._otherwise(text)
        if name is None and (plain := self._dressed(text)):
            name = self.find_lasting(plain.name) or self.lastingly(plain.cas)
        return self._known[name] if name else None

    def find_lasting(self, text: str) -> str | None:
        """Return the name of who was known by this, in any spelling, before any table mentioned it."""
        return self.lastingly(name_key(text)) or self.lastingly(normalise_cas(text)) or self._otherwise(text)

    def lastingly(self, key: str) -> str | None:
        """Return the name of who was known by this key before any table mentioned it."""
        return self._owner.get(key) if key in self._lasting else None

    def plain(self, text: str) -> Plain | None:
        """Return the name without what stands round it, if it leads to somebody only so."""
        return None if self._exactly(text) or self._otherwise(text) else self._dressed(text)

    def slips(self, text: str) -> tuple[str, ...]:
        """Return the names and synonyms that are one typing slip away; none if the text is known."""
        return self._by_slip().of(text)

    def as_written(self, text: str) -> bool:
        """Tell whether this very spelling is a name, synonym or CAS number of somebody."""
        return self._exactly(text) is not None

    def footnote(self, text: str) -> str:
        """Return the footnote number without which alone this name is known; or ""."""
        return without_number(text)[1] if not self._exactly(text) and self._footnoted(text) else ""

    def knew(self, text: str) -> bool:
        """Tell whether this name was known before any table mentioned it."""
        return name_key(text) in self._lasting or normalise_cas(text) in self._lasting or bool(self._by_reading(text))

    def read_as(self, said: Reading) -> frozenset[str]:
        """Return the names of the records that a name with this reading leads to, those of tables too."""
        return frozenset(self._owner[key] for key in self._keys_read_as(said) if key in self._owner)

    @property
    def kin(self) -> Kin:
        """What is known, by what it has in common with names that say more or less; made with the readings."""
        self._make_readings()
        return self._kin

    def _keys_read_as(self, said: Reading) -> Collection[str]:
        """Return the keys of the names of this reading."""
        self._make_readings()
        own = self._read.get(said, {})
        return own | self._builtin._read.get(said, {}) if self._builtin else own

    def _make_readings(self) -> None:
        """Read the names that are not read yet: none are before one is looked for that nothing knows as written."""
        if self._builtin:
            self._builtin._make_readings()
        if not self._unread:
            return
        kept = {} if self._builtin else registry_readings()
        for text in self._unread:
            said = kept.get(text) or reading(text)
            self._read.setdefault(said, {})[name_key(text)] = None
            self._kin.enter(text, said)
        self._unread.clear()

    def _by_slip(self) -> Slips:
        if self._slips is None:
            self._slips = Slips(self._spelling, self._builtin._by_slip() if self._builtin else None)
        return self._slips

    def _exactly(self, text: str) -> str | None:
        return self._owner.get(name_key(text)) or self._owner.get(normalise_cas(text))

    def _footnoted(self, text: str) -> str | None:
        if not text.endswith((")", "]")):
            return None
        bare, number = without_number(text)
        return self._plainly(bare) if number else None

    def _otherwise(self, text: str) -> str | None:
        return self._footnoted(text) or self._by_reading(text) or self._by_both(text)

    def _dressed(self, text: str) -> Plain | None:
        """Return a name that is not known as it stands without its decoration, if it leads to somebody so."""
        plain = undress(text)
        if plain.name == text or (plain.number and self.find_lasting(f"{plain.number}-{plain.name}")):
            return None  # or the number may be a locant
        return plain if self.find_lasting(plain.name) or self.lastingly(plain.cas) else None

    def _by_reading(self, text: str) -> str | None:
        said = reading(text)
        return self._only(said) or (self._either_way(said) if said.turn else None)

    def _only(self, said: Reading) -> str | None:
        names = {self.lastingly(key) for key in self._keys_read_as(said)} - {None}
        return names.pop() if len(names) == 1 else None

    def _either_way(self, said: Reading) -> str | None:
        """Return who takes in both mirror images, for a name that says which (by one sign, one centre or both)."""
        if not all(turn in ("+", "-", "±") or _ONE_CENTRE.fullmatch(turn) for turn in said.turn.split()):
            return None
        right, left = (self._only(said._replace(turn=sign)) for sign in "+-")
        return right if right == left else None

    def _by_both(self, text: str) -> str | None:
        both = _TWO_NAMES.fullmatch(text) or _EITHER_NAME.fullmatch(text)
        if not both or looks_like_cas(both[2]):
            return None
        one, other = (self._plainly(name) for name in both.groups())
        return one if one == other or (one and self._of_members(one, both[2])) else None

    def _of_members(self, name: str, listed: str) -> bool:
        """Tell whether a list, as in `citral (geranial + neral)`, names exactly the members of a sum."""
        members = self._known[name].members
        return len(members) > 1 and {self._plainly(piece) for piece in BETWEEN.split(listed)} == set(members)

    def _plainly(self, text: str) -> str | None:
        return self.lastingly(name_key(text)) or self._by_reading(text)

    def put(self, constituent: Constituent) -> Constituent:
        """Enter a record under all its names, in place of an earlier one of the same name."""
        self._known[constituent.name] = constituent
        if constituent.members:
            self._sums[constituent.name] = constituent
        else:
            self._sums.pop(constituent.name, None)
        for text in _names(constituent):
            key = name_key(text)
            self._owner[key] = constituent.name
            if not (text[:1].isdigit() and looks_like_cas(text)):
                if self._slips is not None and key not in self._spelling:
                    self._slips.enter(key)
                self._spelling.setdefault(key, text)
                self._unread.append(text)
        return constituent

    def drop(self, constituent: Constituent) -> None:
        """Take out a record and all its names."""
        del self._known[constituent.name]
        self._sums.pop(constituent.name, None)
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

    def sums_holding(self, name: str) -> tuple[str, ...]:
        """Return the sums that take in a constituent of this name, directly or through another, in order of name."""
        found, waiting = {name}, [name]
        while waiting:
            here = waiting.pop()
            for one in self._sums.values():
                if here in one.members and one.name not in found:
                    found.add(one.name)
                    waiting.append(one.name)
        return tuple(sorted(found - {name}))


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
    index.lasting()
    return index


def known_to_all(text: str) -> bool:
    """Tell whether this is a name, synonym or CAS number of a built-in constituent, in any spelling of the trade."""
    return _ready().find(text) is not None
