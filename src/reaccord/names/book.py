"""The one book of names of a study."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from reaccord.domain.constituent import Constituent
from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names.index import NameIndex
from reaccord.names.key import nearest
from reaccord.names.own import enter_own
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

    def nearest(self, text: str) -> str | None:
        """Return the known name or synonym most like the text, for a hint."""
        return nearest(text, self._index.spellings)

    def covers(self, name: str) -> frozenset[str]:
        """Return the names that a target row for `name` takes in: itself and, for a sum, all members."""
        return self._index.covers(name)

    def sums_holding(self, name: str) -> tuple[str, ...]:
        """Return the sums that take in `name`, directly or through another sum, in order of name."""
        found = self.find(name)
        if found is None:
            return ()
        sums = (c.name for c in self.known().values() if c.members and c.name != found.name)
        return tuple(sorted(s for s in sums if found.name in self.covers(s)))

    def say_footnotes(self, findings: Findings) -> None:
        """Note, once a column, where names were known only without a footnote number behind them."""
        sentence = "a number or letter in brackets behind a name: taken as a footnote mark and left out"
        findings.warn_once("taken-as", ((place, sentence) for place in self._index.footnoted))

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
            Takes errors `bad-cas`, `name-cas-disagree`, `reserved-name` and `joined`, warnings `maybe-misspelt`,
            `maybe-same` and `joined`.
        cas
            The CAS number the same row states, if any.
        extra_known
            Further names that count as known for spotting a typing slip, such as materials.
        """
        return settle(self._index, text, place, findings, cas, extra_known)
