"""Headings of tables that come from elsewhere: what means a declared column is renamed, what is no share left out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

from reaccord.findings import Findings
from reaccord.tables.columns import Column
from reaccord.tables.heading_units import check_unit, without_unit
from reaccord.tables.heading_words import WORDS, as_column, forms, is_aside, key, says_percent
from reaccord.tables.raw import RawTable

_MAY_BE_A_SAMPLE = {"low", "high", "weight"}


def settle_headings(
    raw: RawTable,
    columns: Iterable[Column],
    words: Mapping[str, Collection[str]],
    findings: Findings,
    *,
    kept: Collection[str] = (),
) -> RawTable:
    """Rename headings that mean a declared column.

    Parameters
    ----------
    raw, columns
        The table as read, and the declared columns.
    words
        What else the heading of a column may say (`heading_words.WORDS`).
    findings
        Every renaming but one of capitals is a warning; two headings that could be one column are an error.
    kept
        Headings that mean themselves.
    """
    settled: dict[str, str] = {}
    for column in columns:
        name = column.name
        if name in raw.headings:
            continue
        fitting = _fitting(column, [h for h in raw.headings if h not in kept and h not in settled], words.get(name, ()))
        if len(fitting) > 1:
            findings.error(
                "which-column",
                f'"{fitting[0]}" and "{fitting[1]}" could both be the column {name}. Call one of them {name}.',
                raw.heading(fitting[1]),
            )
        elif fitting:
            settled[fitting[0]] = name
            if fitting[0].casefold() != name or name in _MAY_BE_A_SAMPLE:
                findings.warn("taken-as", f"taken as the column {name}.", raw.heading(fitting[0]))
            check_unit(raw, fitting[0], column, findings)
    return renamed(raw, settled)


def _fitting(column: Column, headings: Collection[str], words: Collection[str]) -> list[str]:
    """Return the headings that say this column: by its own name, by a usual word, with a footnote letter or a unit."""
    named = [h for h in headings if as_column(h) == column.name]
    worded = named or [h for h in headings if key(h) in words or forms(h)[0] in words]
    if worded:
        return worded
    shares = column.kind in {"share", "purity", "reported"}
    said = [h for h in headings if shares or not says_percent(h)]
    found = [h for h in headings if any(f in words for f in forms(h)) or (h in said and column.name in forms(h))]
    own = {column.name} if shares else {column.name, *words}  # `Content (ppm)` is no share; `Stock (kg)` is a stock
    return found or [h for h in said if not own.isdisjoint(forms(without_unit(h)))]


def without_asides(
    raw: RawTable, findings: Findings, *, say: bool = True, kept: Collection[str] = (), cure: str = ""
) -> RawTable:
    """Leave out columns that hold no share, as numbers of peaks and retention indices; but not those to be `kept`.

    `cure` is what to do if one does hold shares.
    """
    aside = [heading for heading in raw.headings if heading not in kept and _aside(raw, heading)]
    said = [(raw.heading(heading), "left out: it holds no share") for heading in (aside if say else ())]
    findings.warn_headings("taken-as", said, cure)
    return without(raw, aside)


def _aside(raw: RawTable, heading: str) -> bool:
    return is_aside(heading, raw.headings) or any(map(is_aside, raw.over.get(heading, ())))


def without_cas(raw: RawTable, findings: Findings) -> RawTable:
    """Leave out the CAS numbers of a table that names its parts: a part may be called by its number."""
    found = [h for h in raw.headings if key(h) == "cas" or any(f in WORDS["constituents"]["cas"] for f in forms(h))]
    for heading in found:
        text = "left out: parts go by their names here. Where a name is not known, its CAS number may be the part."
        findings.warn("taken-as", text, raw.heading(heading))
    return without(raw, found)


def renamed(raw: RawTable, names: Mapping[str, str]) -> RawTable:
    """Return the table with these headings under other names."""
    return _with_headings(raw, {heading: names.get(heading, heading) for heading in raw.headings})


def without(raw: RawTable, headings: Collection[str]) -> RawTable:
    """Return the table without these columns."""
    return _with_headings(raw, {heading: heading for heading in raw.headings if heading not in headings})


def _with_headings(raw: RawTable, names: Mapping[str, str]) -> RawTable:
    """Return the table with these of its columns, each under the name given."""
    if tuple(names) == tuple(names.values()) == raw.headings:
        return raw
    rows = tuple((line, {name: row[heading] for heading, name in names.items()}) for line, row in raw.rows)
    over = {name: raw.over[heading] for heading, name in names.items() if heading in raw.over}
    return replace(raw, headings=tuple(names.values()), rows=rows, over=over)
