"""A name that nothing knows beside a CAS number that somebody has.

A number is one slip from another as a name is. So a name that by itself suggests another constituent is an error; one
that suggests the same is another spelling of it; where a name suggests nobody the number decides, and that is said.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from reaccord.domain.constituent import Constituent
from reaccord.findings import Findings, Place
from reaccord.names.index import NameIndex
from reaccord.names.key import name_key
from reaccord.names.suggest import suggest
from reaccord.names.text import shortened

LISTED = 4
"""Pairs of a name and whom it was taken for in one message."""


def beside_number(
    index: NameIndex, name: str, by_cas: Constituent, number: str, cells: tuple[Place, Place], findings: Findings
) -> Constituent:
    """Return who has the number, from now on known by the name too; `cells` are those of the name and the number."""
    key = name_key(name)
    before = index.numbered.get(key)
    meant = index.numbered.setdefault(key, _suggested(index, name) if before is None else before)
    if elsewhere := _others(index, meant, by_cas):
        findings.error("name-cas-disagree", disagreement(name, elsewhere, by_cas, number), cells[1])
    elif by_cas.name not in meant:
        index.by_number[cells[0]] = (name, by_cas.name)
    return by_cas if before is not None else index.put(replace(by_cas, synonyms=(*by_cas.synonyms, name)))


def suggested_instead(index: NameIndex, name: str, by_cas: Constituent) -> tuple[str, ...]:
    """Return whom a name that nothing knows suggests, in order of name; nobody if `by_cas` or its kin is among them."""
    return _others(index, _suggested(index, name), by_cas)


def disagreement(name: str, elsewhere: tuple[str, ...], by_cas: Constituent, number: str) -> str:
    """Return the sentence for a name and a number that lead apart."""
    meant = " or ".join(f'"{other}"' for other in elsewhere)
    return (
        f'"{shortened(name)}" looks like {meant}, but {number} is "{by_cas.name}". Keep the one that is meant; if it '
        f'is a name of "{by_cas.name}", put it among its synonyms in the constituents table.'
    )


def say_by_number(cells: Mapping[Place, tuple[str, str]], findings: Findings) -> None:
    """Note once a column which names that nothing knows were taken for somebody by the CAS number alone."""
    columns: dict[tuple[str, str | None], list[Place]] = {}
    for place in sorted(cells, key=lambda cell: (cell.file, cell.row or 0)):
        columns.setdefault((place.file, place.column), []).append(place)
    for places in columns.values():
        pairs = list(dict.fromkeys(cells[place] for place in places))
        (name, known), *others = pairs
        said = f'nothing is called "{shortened(name)}"; taken as {known} by its CAS number'
        if others:
            listed = [f'"{shortened(other)}" as {whom}' for other, whom in others[: LISTED - 1]]
            more = f" and {len(pairs) - LISTED} more" if len(pairs) > LISTED else ""
            said += f" (so too {', '.join(listed)}{more})"
        elif len(places) > 1:
            said += f" (so too in {len(places) - 1} more row{'s' if len(places) > 2 else ''})"
        cure = f"If it is one of its names, put it among the synonyms of {known} in the constituents table"
        findings.warn("taken-as", f"{said}. {cure}; else mend the number.", places[0])


def _suggested(index: NameIndex, name: str) -> frozenset[str]:
    """Return whom a name suggests of those known before any table, so that nothing hangs on the order of rows."""
    alike = (index.lastingly(name_key(known)) for known in suggest(index, name).names)
    return frozenset(known for known in alike if known)


def _others(index: NameIndex, meant: frozenset[str], by_cas: Constituent) -> tuple[str, ...]:
    """Return those meant, if none is the one with the number, a part of it or a sum that takes it in."""
    kin = index.covers(by_cas.name)
    if any(other in kin or by_cas.name in index.covers(other) for other in meant):
        return ()
    return tuple(sorted(meant))
