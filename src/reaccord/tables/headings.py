"""Headings of tables that come from papers and laboratories, found by what they usually say.

Common practice, no source: the words below are how published analyses head their columns.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from reaccord.findings import Findings, Place
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
_ASIDE = {
    "no", "no.", "nr", "nr.", "#", "peak", "peak no", "peak no.", "rt", "r.t.", "rt min", "t r", "retention time",
    "retention time min", "ri", "lri", "kri", "ki", "ai", "ri exp", "ri lit", "rri", "retention index", "kovats index",
    "identification", "id", "method", "methods", "class", "molecular formula", "mw", "m/z", "reference", "references",
}  # fmt: skip


def _key(heading: str) -> str:
    """Return a heading without case, brackets, commas and footnote marks."""
    bare = re.sub(r"[\(\)\[\],:]", " ", heading.casefold())
    bare = re.sub(r"[\*†‡§¹²³ᵃᵇᶜᵈ]+$", "", bare.strip())
    return re.sub(r"\s+", " ", bare).strip()


def settle_headings(
    raw: RawTable, wanted: Mapping[str, str], findings: Findings, *, say_aside: bool = True
) -> RawTable:
    """Rename headings that mean a declared column, and drop those that hold no share.

    Parameters
    ----------
    raw
        The table as read.
    wanted
        Which columns may be found by other words: `{"constituent": "constituent", "share": "share", "cas": "cas"}`
        with the declared name for each meaning. A column that is there by its own name is not looked for.
    findings
        Every renaming is a warning, and every column left out unless `say_aside` is false.
    """
    words = {"constituent": _CONSTITUENT, "cas": _CAS, "share": _SHARE}
    renamed: dict[str, str] = {}
    for meaning, column in wanted.items():
        if column in raw.headings:
            continue
        fitting = [heading for heading in raw.headings if _key(heading) in words[meaning]]
        if len(fitting) == 1:
            renamed[fitting[0]] = column
            findings.warn("taken-as", f"taken as the column {column}.", Place(raw.file, 1, fitting[0]))
        elif len(fitting) > 1:
            findings.error(
                "which-column",
                f'"{fitting[0]}" and "{fitting[1]}" could both be the column {column}. Call one of them {column}.',
                Place(raw.file, 1, fitting[1]),
            )
    aside = [h for h in raw.headings if h not in renamed and _key(h) in _ASIDE]
    for heading in aside if say_aside else ():
        findings.warn("taken-as", "left out: it holds no share.", Place(raw.file, 1, heading))
    kept = [heading for heading in raw.headings if heading not in aside]
    return replace(
        raw,
        headings=tuple(renamed.get(heading, heading) for heading in kept),
        rows=tuple((line, {renamed.get(h, h): row[h] for h in kept}) for line, row in raw.rows),
    )
