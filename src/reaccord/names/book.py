"""The one book of names of a study."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from reaccord.domain.constituent import Constituent
from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names.beside_cas import say_by_number
from reaccord.names.constituents_table import enter_own
from reaccord.names.doubts import say_unknown
from reaccord.names.index import NameIndex
from reaccord.names.key import nearest
from reaccord.names.settle import settle


class NameBook:
    """Every constituent known to a study, found by any of its names.

    A constituent that nothing knows is entered under its own name when it is first settled, so that
    the next mention in other letters is the same one. Records are frozen: take them from `known()`
    when all names are settled, earlier ones may lack a CAS number learnt later.
    """

    def __init__(self, index: NameIndex) -> None:
        self._index = index

    @classmethod
    def build(cls, own: Iterable[ConstituentLine], findings: Findings) -> NameBook:
        """Return the built-in constituents, added to and overridden by the study's own table."""
        index = NameIndex.builtin()
        enter_own(index, tuple(own), findings)
        return cls(index)

    def known(self) -> Mapping[str, Constituent]:
        """Return all constituents by the name used everywhere: built in, the study's own, and settled."""
        return self._index.known

    def find(self, text: str) -> Constituent | None:
        """Return who goes by this name, synonym or CAS number, or None."""
        return self._index.find(text)

    def decorated(self, text: str) -> bool:
        """Tell whether a name leads to somebody only without what stands round it, as `linalool (78-70-6)`."""
        return self._index.plain(text) is not None

    def nearest(self, text: str) -> str | None:
        """Return the known name or synonym most like the text, for a hint."""
        return nearest(text, self._index.spellings)

    def covers(self, name: str) -> frozenset[str]:
        """Return the names that a target row for `name` takes in: itself and, for a sum, all members."""
        return self._index.covers(name)

    def sums_holding(self, name: str) -> tuple[str, ...]:
        """Return the sums that take in `name`, directly or through another sum, in order of name."""
        found = self.find(name)
        return () if found is None else self._index.sums_holding(found.name)

    def unknown(self) -> Mapping[str, tuple[Place, ...]]:
        """Return the names that neither the registry nor the study's own table knows: the first cell of each file."""
        return {name: tuple(places.values()) for name, places in self._index.unknown.items()}

    def asked(self) -> Mapping[str, tuple[str, ...]]:
        """Return the constituents of `unknown` that may mean known ones, and which, in order of name."""
        return {name: meant for name, meant in self._index.asked.items() if meant and name in self._index.unknown}

    def say_taken(self, findings: Findings) -> None:
        """Note, once a column, where names were known only without what stands round them, or by a CAS number."""
        findings.warn_once("taken-as", self._index.taken)
        say_by_number(self._index.by_number, findings)

    def say_unknown(self, findings: Findings) -> None:
        """Note, once for each file, the names that nothing knows and no other finding has named."""
        say_unknown(self.unknown(), self._index.doubted, findings)

    def settle(
        self,
        text: str,
        place: Place,
        findings: Findings,
        cas: str = "",
        extra_known: Collection[str] = (),
    ) -> Constituent:
        """Return who is meant by a cell, and note every doubt.

        Parameters
        ----------
        text
            A name, synonym or CAS number as a table gives it.
        place
            The cell it stands in.
        findings
            Takes errors `bad-cas`, `name-cas-disagree`, `reserved-name`, `number-name`, `no-constituent`,
            `class-row`, `rest-row` and `joined`, warnings `maybe-misspelt`, `maybe-same` and `joined`.
        cas
            The CAS number the same row states, if any.
        extra_known
            Names of materials, which a name that nothing knows may have been meant as.
        """
        return settle(self._index, text, place, findings, cas, extra_known)
