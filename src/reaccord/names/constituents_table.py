"""The study's own constituents table: it adds to the built-in names and overrides them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from reaccord.domain.constituent import Constituent
from reaccord.domain.lines import ConstituentLine
from reaccord.findings import Findings, Place
from reaccord.names.beside_cas import disagreement, suggested_instead
from reaccord.names.cas import looks_like_cas, normalise_cas
from reaccord.names.doubts import doubt_unknown
from reaccord.names.formula import atom_counts
from reaccord.names.index import NameIndex
from reaccord.names.key import name_key
from reaccord.names.settle import FOOTNOTE, checked_cas, refused, settle
from reaccord.names.text import one_line, without_number


def enter_own(index: NameIndex, lines: tuple[ConstituentLine, ...], findings: Findings) -> None:
    """Enter the rows; a blank leaves what is built in.

    A member named in a row stands for itself even where the built-in list has it as a synonym of the
    sum: so a study that smells d- and l-limonene apart says `limonene` has the members d-limonene and
    l-limonene.

    Errors: `bad-cas`, `bad-formula`, `constituent-twice`, `name-claimed-twice`, `name-cas-disagree`,
    `sum-holds-itself`, `reserved-name`. Warnings: `cas-overridden`, `maybe-misspelt`, `maybe-same`.
    """
    if not lines:
        return
    table = _OwnTable(index, findings)
    lines = tuple(
        _undressed(index, line) for line in lines if not refused(line.constituent, line.at.at("constituent"), findings)
    )
    for line in lines:
        table.doubt(line)
    for line in lines:
        table.split(line)
    for line in lines:
        table.enter(line)
    index.lasting()
    for line in lines:
        table.add_members(line)
    for line in lines:
        table.check_members(line)
    index.lasting()


def _undressed(index: NameIndex, line: ConstituentLine) -> ConstituentLine:
    place = line.at.at("constituent")
    plain = index.plain(line.constituent)
    if plain and (not plain.cas or plain.cas == normalise_cas(line.cas or plain.cas)):
        index.taken.update(((place, sentence), None) for sentence in plain.left_out)
        line = line._replace(constituent=plain.name, cas=line.cas or plain.cas)
    if not index.footnote(line.constituent):
        return line
    index.taken[place, FOOTNOTE] = None
    return line._replace(constituent=without_number(line.constituent)[0])


@dataclass
class _OwnTable:
    index: NameIndex
    findings: Findings
    rows: dict[str, Place] = field(default_factory=dict)
    split_from: dict[str, str] = field(default_factory=dict)

    def doubt(self, line: ConstituentLine) -> None:
        """Say where a name suggests another of the built-in constituents than the CAS number beside it."""
        by_cas = self.index.find(line.cas) if looks_like_cas(line.cas) else None
        if by_cas and not self.index.find(line.constituent):
            elsewhere = suggested_instead(self.index, line.constituent, by_cas)
            if elsewhere:
                text = disagreement(line.constituent, elsewhere, by_cas, normalise_cas(line.cas))
                self._error(line.at.at("cas"), "name-cas-disagree", text)

    def split(self, line: ConstituentLine) -> None:
        """Let members of this row stand for themselves that are synonyms of its constituent."""
        owner = self.index.find(line.constituent)
        for member in line.members:
            if owner and name_key(member) in {name_key(s) for s in owner.synonyms}:
                owner = self._without(owner, member)
                alike = replace(owner, name=one_line(member), cas="", synonyms=(), members=())
                self.index.put(alike)
                self.split_from[alike.name] = owner.name

    def enter(self, line: ConstituentLine) -> None:
        cas = checked_cas(line.cas, line.at.at("cas"), self.findings)
        synonyms = tuple(s for s in line.synonyms if self._synonym_ok(s, line.at))
        owner = self._owner(line, cas, synonyms)
        if owner and owner.name in self.rows:
            first = self.rows[owner.name]
            self._error(
                line.at,
                "constituent-twice",
                f'"{line.constituent}" is {_same(line, owner)}row {first.row}. Keep one of the two rows.',
            )
            return
        record = self._merged(line, cas, synonyms, owner)
        if owner:
            self._rename(owner, record)
        elif not cas:
            doubt_unknown(self.index, record.name, line.at.at("constituent"), self.findings, remarks=False)
        self.index.put(record)
        self.rows[record.name] = line.at

    def add_members(self, line: ConstituentLine) -> None:
        record = self.index.find(line.constituent)
        if record and line.members and self.rows.get(record.name) == line.at:
            at = line.at.at("members")
            members = tuple(settle(self.index, m, at, self.findings).name for m in line.members)
            latest = self.index.known[record.name]
            self.index.put(replace(latest, members=tuple(dict.fromkeys(members))))

    def check_members(self, line: ConstituentLine) -> None:
        record = self.index.find(line.constituent)
        if record and any(record.name in self.index.covers(member) for member in record.members):
            self._error(
                line.at.at("members"),
                "sum-holds-itself",
                f'"{record.name}" is a member of itself, by way of {", ".join(record.members)}.',
            )

    def _owner(self, line: ConstituentLine, cas: str, synonyms: tuple[str, ...]) -> Constituent | None:
        by_name = self.index.find(line.constituent)
        by_cas = self._holder(cas, by_name) if cas else None
        if by_name and by_cas and by_name.name != by_cas.name:
            self._error(
                line.at.at("cas"),
                "name-cas-disagree",
                f'"{line.constituent}" is "{by_name.name}", but CAS {cas} is "{by_cas.name}". '
                "Keep the one that is meant.",
            )
        owner = by_name or by_cas
        for synonym in synonyms:
            claimed = self._holder(synonym, owner)
            if claimed is None or (owner and claimed.name == owner.name):
                continue
            if owner is None and claimed.name not in self.rows:
                owner = claimed
                continue
            self._claimed_twice(line, synonym, claimed)
        return owner

    def _holder(self, text: str, owner: Constituent | None) -> Constituent | None:
        """Find who goes by this; what was split from another may take names of it along."""
        found = self.index.find(text)
        parted = found and owner and self.split_from.get(owner.name) == found.name
        if found and parted and name_key(text) in {name_key(s) for s in found.synonyms}:
            self._without(found, text)
            return None
        return found

    def _claimed_twice(self, line: ConstituentLine, synonym: str, claimed: Constituent) -> None:
        row = self.rows.get(claimed.name)
        where = f" (row {row.row})" if row else ""
        self._error(
            line.at.at("synonyms"),
            "name-claimed-twice",
            f'"{synonym}" is claimed for "{line.constituent}" and already names '
            f'"{claimed.name}"{where}. A name can mean one constituent only.',
        )

    def _merged(
        self, line: ConstituentLine, cas: str, synonyms: tuple[str, ...], owner: Constituent | None
    ) -> Constituent:
        name = one_line(line.constituent)
        old = owner or Constituent(name)
        if looks_like_cas(name) and owner:
            name = owner.name
        free = [s for s in synonyms if (self.index.find(s) or old).name == old.name]
        number = self._number(line, cas, old) if cas else old.cas
        return Constituent(
            name=name,
            cas=number,
            synonyms=_distinct([old.name, *old.synonyms, *free, old.cas], besides=(name, number)),
            formula=self._formula(line) or old.formula,
            benzene_rings=old.benzene_rings if line.benzene_rings is None else line.benzene_rings,
            carrier=old.carrier if line.carrier is None else line.carrier,
            members=old.members,
        )

    def _number(self, line: ConstituentLine, cas: str, old: Constituent) -> str:
        holder = self.index.find(cas)
        if holder and holder.name != old.name:
            return old.cas
        if old.cas and holder is None:
            self.findings.warn(
                "cas-overridden",
                f'"{line.constituent}" is built in as CAS {old.cas}; this study uses {cas} for it.',
                line.at.at("cas"),
            )
        return cas

    def _formula(self, line: ConstituentLine) -> str:
        if line.formula:
            try:
                atom_counts(line.formula)
            except ValueError as reason:
                self._error(line.at.at("formula"), "bad-formula", f"{reason}.")
                return ""
        return line.formula

    def _synonym_ok(self, synonym: str, at: Place) -> bool:
        if not looks_like_cas(synonym):
            return bool(synonym.strip())
        return bool(checked_cas(synonym, at.at("synonyms"), self.findings))

    def _rename(self, old: Constituent, new: Constituent) -> None:
        self.index.drop(old)
        if old.name == new.name:
            return
        for part, whole in self.split_from.items():
            if whole == old.name:
                self.split_from[part] = new.name
        for holder in [c for c in self.index.known.values() if old.name in c.members]:
            members = tuple(new.name if m == old.name else m for m in holder.members)
            self.index.put(replace(holder, members=members))

    def _without(self, owner: Constituent, text: str) -> Constituent:
        gone = name_key(text)
        self.index.drop(owner)
        kept = tuple(s for s in owner.synonyms if name_key(s) != gone)
        return self.index.put(replace(owner, synonyms=kept))

    def _error(self, at: Place, code: str, message: str) -> None:
        self.findings.error(code, message, at if at.column else at.at("constituent"))


def _same(line: ConstituentLine, owner: Constituent) -> str:
    if name_key(line.constituent) == name_key(owner.name):
        return "already in "
    return f'the same constituent as "{owner.name}" in '


def _distinct(texts: list[str], besides: tuple[str, str]) -> tuple[str, ...]:
    seen = {name_key(text) for text in besides}
    kept: list[str] = []
    for text in texts:
        plain = normalise_cas(text) if looks_like_cas(text) else one_line(text)
        if plain and name_key(plain) not in seen:
            seen.add(name_key(plain))
            kept.append(plain)
    return tuple(kept)
