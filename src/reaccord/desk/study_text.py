"""What was moved as a study file that `fit` reads: the old one's text, comments and order kept, with what differs.

What a study file cannot say (a weight, a rule's maximum, one bottle of several of a material) goes into a table beside
it that the new study names. Before anything is written, all of it is read back and must give the study of the desk.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reaccord.domain.settings import AmountSettings
from reaccord.domain.settled import Bottle, RuleEntry
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.domain.tables import InputFile
from reaccord.findings import Findings, InvalidInput
from reaccord.names.key import name_key
from reaccord.report.quantities import exact_percent
from reaccord.study.load import study_from_tables
from reaccord.tables import columns
from reaccord.tables.heading_words import WORDS
from reaccord.tables.headings import settle_headings
from reaccord.tables.raw import RawTable, read_bytes
from reaccord.tables.read import any_table, study_of_bytes
from reaccord.tables.studyfile import SECTIONS

SHARES = {"share", "shares"}
Cells = Mapping[int, Mapping[str, str]]
"""By the line of a row its cells that differ, by the name of the column."""


class Unsaid(Exception):
    """It cannot be saved; the message says why."""


@dataclass(frozen=True)
class _Table:
    """A table to be written beside: which key names it, the cells that differ, rows that stand in place of one."""

    key: tuple[str, str]
    tail: str
    cells: Cells
    instead: Mapping[int, list[Mapping[str, str]]]


def study_files(base: Study, study: Study, file: Path, name: str) -> dict[str, str]:
    """Return the texts of the study file and of the tables it needs beside it, by their names.

    Raises
    ------
    Unsaid
        If they would not give the study of the desk when they are read.
    """
    tables = [each for each in (_weights(base, study), _rules(study), _bottles(study)) if each.cells or each.instead]
    files, named = {}, dict[tuple[str, str], str]()
    for table in tables:
        section, key = table.key
        named[table.key] = f"{Path(name).stem}-{table.tail}.csv"
        files[named[table.key]] = _table_text(file, getattr(getattr(base.settings, section), key), table)
    texts = {name: _study_text(base, study, file, named), **files}
    _check(texts, study, file, name)
    return texts


def _study_text(base: Study, study: Study, file: Path, named: Mapping[tuple[str, str], str]) -> str:
    import tomlkit
    from tomlkit.exceptions import ParseError

    try:
        document: Any = tomlkit.parse(file.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, ParseError) as fault:
        why = getattr(fault, "strerror", None) or str(fault)
        raise Unsaid(f"{file.name}, whose text is kept, cannot be read any more ({why}). Put it back first.") from None
    for section, keys in SECTIONS.items():
        was, now = (getattr(each.settings, section, None) if section else None for each in (base, study))
        for key in keys if section and now is not None else ():
            if key == "amount":
                _amounts(document, base.settings.limits.amounts, study.settings.limits.amounts)
            elif (section, key) in named:
                _put(document, section, key, named[section, key])
            elif key == "exclude":
                if set(_excluded(study)) != set(study.settings.limits.exclude):
                    _put(document, section, key, _excluded(study))
            elif getattr(was, key) != getattr(now, key):
                _put(document, section, key, _said(getattr(now, key), keys[key].takes))
    return str(tomlkit.dumps(document))


def _put(document: Any, section: str, key: str, value: object) -> None:
    """Set a key where it stands, add it, or take it out."""
    import tomlkit

    if section not in document:
        if value in (None, []):
            return
        document[section] = tomlkit.table()
    if value in (None, []):
        if key in document[section]:
            del document[section][key]
        return
    document[section][key] = value


def _said(value: object, takes: str) -> object:
    if value is None or value == "":
        return None
    if isinstance(value, tuple):
        return [_said(each, takes) for each in value]
    if takes in SHARES:
        assert isinstance(value, float | int)
        return exact_percent(value)
    return int(value) if isinstance(value, float) and value == int(value) else value


def _amounts(document: Any, was: tuple[AmountSettings, ...], now: tuple[AmountSettings, ...]) -> None:
    """Set the named amounts that differ."""
    import tomlkit

    before = {name_key(each.material): each for each in was}
    after = {name_key(each.material): each for each in now}
    for key in {**before, **after}:
        if before.get(key) == after.get(key):
            continue
        listed = document.get("limits", {}).get("amount", [])
        at = next((n for n, each in enumerate(listed) if name_key(str(each["material"])) == key), None)
        if key not in after:
            del listed[at]
            if not listed:
                del document["limits"]["amount"]
            continue
        if at is None:
            if "limits" not in document:
                document["limits"] = tomlkit.table()
            if "amount" not in document["limits"]:
                document["limits"]["amount"] = tomlkit.aot()
            listed, at = document["limits"]["amount"], len(listed)
            listed.append(tomlkit.table().add("material", after[key].material))
        for end in ("at_least_g", "at_most_g", "exactly_g"):
            grams = _said(getattr(after[key], end), "number")
            if grams is not None:
                listed[at][end] = grams
            elif end in listed[at]:
                del listed[at][end]


def _poured(study: Study) -> set[StockKey]:
    return {stock.key for stock in study.stocks if stock.recipe is None}


def _excluded(study: Study) -> list[str]:
    """Return the materials to exclude: those of which no bottle is to be poured because it was left out."""
    poured, of = _poured(study), dict[str, list[Bottle]]()
    for bottle in study.settled.bottles:
        of.setdefault(bottle.key.material, []).append(bottle)
    out = {m for m, bottles in of.items() if all(each.use == "never" for each in bottles)}
    back = {m for m, bottles in of.items() if any(each.use == "always" and each.key in poured for each in bottles)}
    known = {name_key(name): material for material in of for name in study.settled.stands_for[material]}
    kept = [name for name in study.settings.limits.exclude if known.get(name_key(name), name) not in back]
    there = {known.get(name_key(name), name) for name in kept}
    return [*kept, *sorted(out - there)]


def _bottles(study: Study) -> _Table:
    """Return what of the bottles only their table can say: one of several left out, one poured past its date."""
    poured, excluded = _poured(study), {name_key(name) for name in _excluded(study)}
    was_excluded = {name_key(name) for name in study.settings.limits.exclude}
    cells: dict[int, dict[str, str]] = {}
    for bottle in study.settled.bottles:
        names = {name_key(name) for name in study.settled.stands_for[bottle.key.material]}
        row, freed = bottle.line.at.row or 0, bool(names & was_excluded) and not names & excluded
        if not names & excluded and (bottle.use == "never" or (freed and bottle.key not in poured)):
            cells[row] = {"stock_g": "0"}
        elif bottle.use == "always" and study.settings.shelf.overdue == "exclude" and bottle.line.opened is not None:
            cells[row] = {"opened": ""}
    return _Table(("shelf", "bottles"), "bottles", cells, {})


def _weights(base: Study, study: Study) -> _Table:
    """Return the weights that differ from the table that was read."""
    cells: dict[int, dict[str, str]] = {}
    for line in base.tables.target:
        mine = [entry.weight for entry in study.settled.target if entry.place == line.at]
        if mine and len(set(mine)) == 1 and mine[0] != line.weight:
            cells[line.at.row or 0] = {"weight": f"{mine[0]:.12g}"}
    return _Table(("target", "table"), "target", cells, {})


def _rules(study: Study) -> _Table:
    """Return the maxima that differ from the table that was read; members with different ones get a row each."""
    cells: dict[int, dict[str, str]] = {}
    instead: dict[int, list[Mapping[str, str]]] = {}
    for entry in study.settled.rules:
        read = next(line for line in study.tables.limits if line.at == entry.line.at)
        row, most = read.at.row or 0, list(_maxima(entry))
        if entry.line.kind == "sum" or not most:
            if entry.line.most != read.most and entry.line.most is not None:
                cells[row] = {"max": exact_percent(entry.line.most)}
        elif len({share for _, share in most}) == 1:
            if most[0][1] != (read.most or 0.0):
                cells[row] = {"max": exact_percent(most[0][1])}
        else:
            instead[row] = [{"members": name, "max": exact_percent(share)} for name, share in most]
    return _Table(("limits", "table"), "limits", cells, instead)


def _maxima(entry: RuleEntry) -> Iterator[tuple[str, float]]:
    for member in entry.members:
        yield member.name, member.most


def _table_text(file: Path, name: str, table: _Table) -> str:
    """Return a table as it was read, as CSV, with the cells that differ."""
    findings = Findings()
    found = any_table(name, lambda each: read_bytes(file.parent / each, each, findings), findings)
    if found is None:
        raise Unsaid(f"{name} cannot be read any more: {'; '.join(map(str, findings.errors))}")
    kind = table.tail
    raw = settle_headings(found[0], columns.TABLES[kind], WORDS[kind], Findings(), kept=())
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    headings = _headings(raw, table)
    writer.writerow(headings)
    for line, cells in raw.rows:
        for row in table.instead.get(line, [table.cells.get(line, {})]):
            mended = {**cells, **row}
            if "max" in row and mended.get("kind", "") == "prohibited":
                mended["kind"] = "each"
            writer.writerow([mended.get(heading, "") for heading in headings])
    return stream.getvalue()


def _headings(raw: RawTable, table: _Table) -> list[str]:
    rows = (*table.cells.values(), *(row for rows in table.instead.values() for row in rows))
    return list(dict.fromkeys([*raw.headings, *(name for row in rows for name in row)]))


def _check(texts: Mapping[str, str], study: Study, file: Path, name: str) -> None:
    """Read back what is to be written and hold it against the study of the desk."""
    findings = Findings()

    def fetch(wanted: str) -> tuple[bytes, InputFile] | None:
        if wanted in texts:
            return texts[wanted].encode(), InputFile(wanted, "")
        return read_bytes(file.parent / wanted, wanted, findings)

    try:
        read = study_from_tables(study_of_bytes(name, fetch, findings), findings)
    except InvalidInput as fault:
        raise Unsaid(f"It would not be read as it stands here, so nothing was written: {fault}") from None
    for what in ("target", "stocks", "amounts"):
        if getattr(read, what) != getattr(study, what):
            raise Unsaid(f"Read again, its {what} would be others than here, so nothing was written.")
    if _claimed(read) != _claimed(study):
        raise Unsaid("Read again, its rules would be others than here, so nothing was written.")


def _claimed(study: Study) -> list[tuple[Any, ...]]:
    """Return what the rules claim, whatever rows and kinds say it."""
    claims = list(study.claims())
    terms = [[(_twelve(c), m.name, sorted(m.constituents), m.material) for c, m in claim.terms] for claim in claims]
    return sorted((claim.label, said, _twelve(claim.most)) for claim, said in zip(claims, terms, strict=True))


def _twelve(number: float) -> str:
    """Write a number in twelve figures: of a ratio the limits are multiplied here, and read there."""
    return f"{number:.12g}"
