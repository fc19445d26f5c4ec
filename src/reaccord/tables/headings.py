"""Headings of tables that come from elsewhere, found by what they usually say, capitals and blanks aside.

Common practice, no source: the words below are how published analyses head their columns.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

from reaccord.findings import Findings, Place
from reaccord.tables.columns import Column
from reaccord.tables.doubts import HEADINGS
from reaccord.tables.raw import RawTable

_CONSTITUENT = {
    "compound", "compounds", "component", "components", "constituents", "substance", "substances", "analyte",
    "compound name", "component name", "name of compound", "chemical", "chemical name", "name",
}  # fmt: skip
_CAS = {"cas no", "cas no.", "cas number", "cas-no", "cas-no.", "cas rn", "casrn", "cas nr", "cas nr."}
_SHARE = {
    "%", "area", "area %", "% area", "area%", "peak area", "peak area %", "% peak area", "relative area",
    "relative area %", "percentage", "percent", "content", "content %", "composition", "composition %", "% composition",
    "relative content", "relative content %", "amount", "amount %", "concentration", "concentration %", "share %",
}  # fmt: skip
_MATERIAL = {"material name", "name of material", "ingredient", "raw material", "bottle"}
_FORMULA = {"molecular formula", "mol formula", "mol. formula"}
_SYNONYMS = {"synonym", "other name", "other names", "also known as"}
_GRAMS = {"g", "gram", "grams g", "weight g", "mass g", "amount g", "quantity g"}
_PRICE = {"price/kg", "price kg", "price per kilo", "price per kilogram", "price per kilogramme"}
_ASIDE = {
    "no", "no.", "nr", "nr.", "#", "peak", "peak no", "peak no.", "rt", "r.t.", "rt min", "t r", "retention time",
    "retention time min", "ri", "lri", "kri", "ki", "ai", "ri exp", "ri lit", "rri", "retention index", "kovats index",
    "identification", "id", "method", "methods", "class", "molecular formula", "mw", "m/z", "reference", "references",
}  # fmt: skip


WORDS: Mapping[str, Mapping[str, Collection[str]]] = {
    "target": {"constituent": _CONSTITUENT, "cas": _CAS},
    "bottles": {"material": {*_MATERIAL, "name"}, "price_per_kg": _PRICE},
    "compositions": {"material": _MATERIAL, "part": _CONSTITUENT, "share": _SHARE},
    "constituents": {"constituent": _CONSTITUENT, "cas": _CAS, "synonyms": _SYNONYMS, "formula": _FORMULA},
    "limits": {},
    "formula": {"material": {*_MATERIAL, "name"}, "grams": _GRAMS},
}
"""By table and column: what else its heading may say. A column that is there by its own name is not looked for."""
_MAY_BE_A_SAMPLE = {"low", "high", "weight"}


def _key(heading: str) -> str:
    """Return a heading without case, brackets, commas and footnote marks."""
    bare = re.sub(r"[\(\)\[\],:]", " ", heading.casefold())
    bare = re.sub(r"[\*†‡§¹²³ᵃᵇᶜᵈ]+$", "", bare.strip())
    return re.sub(r"\s+", " ", bare).strip()


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
    raw
        The table as read.
    columns
        The declared columns.
    words
        What else the heading of a column may say (`WORDS`).
    findings
        Every renaming but one of capitals is a warning; two headings that could be one column are an error.
    kept
        Headings that mean themselves.
    """
    renamed: dict[str, str] = {}
    for column in (column.name for column in columns):
        if column in raw.headings:
            continue
        free = [heading for heading in raw.headings if heading not in kept]
        fitting = [h for h in free if re.sub(r"[ -]", "_", _key(h)) == column]
        fitting = fitting or [h for h in free if _key(h) in words.get(column, ())]
        if len(fitting) > 1:
            findings.error(
                "which-column",
                f'"{fitting[0]}" and "{fitting[1]}" could both be the column {column}. Call one of them {column}.',
                Place(raw.file, HEADINGS, fitting[1]),
            )
        elif fitting:
            renamed[fitting[0]] = column
            if fitting[0].casefold() != column or column in _MAY_BE_A_SAMPLE:
                findings.warn("taken-as", f"taken as the column {column}.", Place(raw.file, HEADINGS, fitting[0]))
    return _with_headings(raw, {heading: renamed.get(heading, heading) for heading in raw.headings})


def without_asides(raw: RawTable, findings: Findings, *, say: bool = True, kept: Collection[str] = ()) -> RawTable:
    """Leave out columns that hold no share, as numbers of peaks and retention indices; but not those to be `kept`."""
    aside = [heading for heading in raw.headings if _key(heading) in _ASIDE and heading not in kept]
    for heading in aside if say else ():
        findings.warn("taken-as", "left out: it holds no share.", Place(raw.file, HEADINGS, heading))
    return _with_headings(raw, {heading: heading for heading in raw.headings if heading not in aside})


def _with_headings(raw: RawTable, names: Mapping[str, str]) -> RawTable:
    """Return the table with these of its columns, each under the name given."""
    if tuple(names) == tuple(names.values()) == raw.headings:
        return raw
    rows = tuple((line, {name: row[heading] for heading, name in names.items()}) for line, row in raw.rows)
    return replace(raw, headings=tuple(names.values()), rows=rows)
