"""Rows that are none: section titles, totals, classes, what is unnamed, figures about the whole, notes below."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from reaccord.domain.constituent import UNDECLARED
from reaccord.findings import Findings, Place
from reaccord.names.classes import is_class, is_figure, is_rest, is_total
from reaccord.names.text import shortened
from reaccord.tables.cell_kinds import is_note, is_number, is_word
from reaccord.tables.raw import RawTable

_SHOWN = 3
_LEADING = re.compile(r"[<>≤≥~]?\s*(\d+(?:[.,]\d+)?)")
_SLIGHT = 0.02
"""Of a sum: what roundings make of it."""

SECTION = "with a name and nothing else, which head those below"
ADDED = "that add up others or are classes of them"
UNNAMED = "of what is not named, which counts as unaccounted"
FIGURE = "that say something of the whole: a yield, a number of constituents"
NOTE = "below the table, which are notes"

Known = Callable[[str], bool]


def without_left_out(
    raw: RawTable,
    name: str,
    findings: Findings,
    known: Known,
    *,
    section: Known = lambda _: True,
    analysis: bool = False,
) -> RawTable:
    """Return the table without the rows that are none; a warning `left-out` for each cause says which.

    Parameters
    ----------
    raw, name, findings
        The table, headings settled; the column that names a row; what takes the warnings.
    known
        Whether a name is that of something known: its row stays, however it looks.
    section
        Whether a row of this name and nothing else heads those below; others stay.
    analysis
        Whether the rows are shares of one whole: classes and what is unnamed are no rows then.
    """
    if name not in raw.headings or not any(_filled(row) > 1 for _, row in raw.rows):
        return raw
    causes = _of_labels(raw, name, known, analysis=analysis)
    full = (n for n in reversed(range(len(raw.rows))) if n not in causes and _is_full(raw.rows[n][1]))
    last = next(full, -1)
    for n, (_, row) in enumerate(raw.rows):
        cause = "" if n in causes else _of_place(raw, n, name, (n > last, analysis, section), causes)
        if cause and not _stays(row[name], known):
            causes[n] = cause
    if len(causes) == len(raw.rows):
        return raw
    _say(raw, name, causes, findings)
    return replace(raw, rows=tuple(row for n, row in enumerate(raw.rows) if n not in causes))


def _of_labels(raw: RawTable, name: str, known: Known, *, analysis: bool) -> dict[int, str]:
    """Return the rows that are none by what they are called, each with why."""
    causes = {}
    for n, (_, row) in enumerate(raw.rows):
        cause = _of_label(_label(row, name), analysis=analysis) if _filled(row) > 1 or not analysis else ""
        if cause and not _stays(row[name], known):
            causes[n] = cause
    return causes


def _is_full(row: Mapping[str, str]) -> bool:
    return _filled(row) > 1 and any(map(is_number, row.values()))


def _stays(name: str, known: Known) -> bool:
    return bool(name) and (name.casefold() == UNDECLARED or known(name))


def _label(row: Mapping[str, str], name: str) -> str:
    return row[name] or next((cell for cell in row.values() if is_word(cell)), "")


def _of_place(raw: RawTable, n: int, name: str, about: tuple[bool, bool, Known], causes: Mapping[int, str]) -> str:
    """Return why a row is none by where it stands and what of it is filled; "" if it is one."""
    below, analysis, section = about
    row = raw.rows[n][1]
    label = _label(row, name)
    if _is_note(row, below, analysis=analysis):
        return NOTE
    if _filled(row) == 1 and label:
        heads = section(label) and (not below or bool(_of_label(label, analysis=True)))
        return SECTION if heads else ""
    return ADDED if analysis and not label and _sums_up(raw, n, causes) else ""


def _filled(row: Mapping[str, str]) -> int:
    return sum(map(bool, row.values()))


@lru_cache(maxsize=16384)
def _of_label(label: str, *, analysis: bool) -> str:
    if is_total(label):
        return ADDED
    if not analysis:
        return ""
    if is_figure(label):
        return FIGURE
    if is_rest(label):
        return UNNAMED
    return ADDED if is_class(label) else ""


def _is_note(row: Mapping[str, str], below: bool, *, analysis: bool) -> bool:
    filled = [cell for cell in row.values() if cell]
    if not analysis and len(filled) > 1:  # a rule that prohibits, a bottle of which nothing is counted
        return False
    return below and not any(map(is_number, filled)) and is_note(" ".join(filled))


def _sums_up(raw: RawTable, at: int, causes: Mapping[int, str]) -> bool:
    """Whether a row without a name holds, in a column or more, the sum of the rows above it, and nothing else."""
    _, here = raw.rows[at]
    rows = [row for n, (_, row) in enumerate(raw.rows[:at]) if not causes.get(n)]
    fits = []
    for heading, cell in here.items():
        found = _LEADING.match(cell)
        if cell and not found:
            return False
        if found:
            values = [_LEADING.match(row[heading]) for row in rows]
            total, stated = sum(float(v[1].replace(",", ".")) for v in values if v), float(found[1].replace(",", "."))
            fits.append(abs(total - stated) <= _SLIGHT * total)
    return bool(fits) and all(fits)


def _say(raw: RawTable, name: str, causes: Mapping[int, str], findings: Findings) -> None:
    for cause in dict.fromkeys(causes[n] for n in sorted(causes)):
        rows: Sequence[int] = sorted(n for n, said in causes.items() if said == cause)
        labels = [next((c for c in (raw.rows[n][1][name], *raw.rows[n][1].values()) if c), "") for n in rows]
        shown = ", ".join(f'"{shortened(label)}"' for label in dict.fromkeys(labels[:_SHOWN]))
        more = f" and {len(rows) - _SHOWN} more" if len(rows) > _SHOWN else ""
        text = f"{len(rows)} row{'s' * (len(rows) > 1)} left out {cause}: {shown}{more}."
        findings.warn("left-out", text, Place(raw.file, raw.rows[rows[0]][0], name))
