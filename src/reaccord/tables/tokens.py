"""What an analysis prints in place of a plain number: dashes, `<0.1`, footnote marks, `±`.

Each such token is taken for one thing and says so (`Reported.taken`), so that `check` can show it. What
could be two things, or two values, is refused with a cure.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from reaccord.domain.lines import TRACE, Reported
from reaccord.findings import Findings, Place
from reaccord.names.text import shortened
from reaccord.tables.cells import BadCell, share

_DASHES = {"-", "\u2010", "\u2011", "\u2012", "\u2013", "\u2014", "\u2015", "\u2212", "--"}
_NOT_DETECTED = {"nd", "n.d", "n.d.", "n. d.", "not detected", "n/d", "b.d.l.", "bdl"}
NO_CAS = {*_DASHES, "na", "n.a", "n.a.", "n. a.", "n/a", "none", "not available", "not assigned", "unknown", "?"}
"""What stands where a constituent has no CAS number, or nobody looked it up."""
_TRACE = {"tr", "tr.", "t", "t.", "trace", "traces", "(tr)", "(t)"}
_NO_NUMBERS = {"nan", "inf", "-inf", "infinity", "-infinity", "#n/a"}
_VALUE = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)\s*(?:%|‰|ppm)?"
_SIGN = r"(?:[\*†‡§#¶¹²³⁴⁵⁶⁷⁸⁹⁰ᵃᵇᶜᵈᵉᶠᵍ]+(?:,\s?[¹²³⁴⁵⁶⁷⁸⁹⁰ᵃᵇᶜᵈᵉᶠᵍ]+)*|\^\(?[a-z](?:,[a-z])*\)?|\[\w{1,3}\])"
_MARK = rf"(?:{_SIGN}|\(\w{{1,3}}\)|(?:[a-fh]|[a-h]{{2,5}})(?:,\s?[a-h])*)"
_LESS = rf"[<≤]\s*=?\s*({_VALUE})"
_BELOW = re.compile(_LESS)
_TRACE_BELOW = re.compile(rf"(?:tr\.?|traces?)\s*[,:;]?\s*[\(\[]?\s*{_LESS}\s*[\)\]]?", re.IGNORECASE)
_SPREAD = re.compile(rf"({_VALUE})\s*(±|\+/-|\+-)\s*({_VALUE})")
_RANGE = re.compile(rf"({_VALUE})\s*(?:-|\u2013|\u2014|to|\.\.\.?)\s*({_VALUE})")
_TWO = re.compile(rf"({_VALUE})(?:\s*[/;|]\s*|\s+)({_VALUE})(?:.*)")
_MARKED = re.compile(rf"((?:[<≤]\s*=?\s*)?{_VALUE}|{_VALUE}\s*(?:±|\+/-|\+-)\s*{_VALUE})\s*({_MARK})")
_WORD_MARKED = re.compile(rf"(.*\S)\s*({_SIGN})")
_LONGEST_WORD = 60
_GRAM = re.compile(rf"({_VALUE})\s*(?:g|gram|grams|mg|kg)")


def reported(text: str) -> Reported:
    """Read a share as an analysis prints it.

    Raises
    ------
    BadCell
        If it is no share, a range, or several values in one cell; the message says what to do.
    """
    word = _word(text)
    if word is not None:
        return word
    if _RANGE.fullmatch(text):
        raise BadCell(f'"{shortened(text)}" is a range. Give its ends in the columns low and high.')
    if _GRAM.fullmatch(text):
        raise BadCell(f'"{shortened(text)}" is a mass, not a share. Write percent by mass.')
    marked = _MARKED.fullmatch(text)
    if marked:
        return _without_mark(_numbers(marked[1].strip()), marked[1].strip(), marked[2])
    behind = _WORD_MARKED.fullmatch(text) if len(text) < _LONGEST_WORD else None
    word = _word(behind[1]) if behind else None
    if behind and word is not None:
        return _without_mark(word, behind[1], behind[2])
    if _TWO.fullmatch(text):
        raise BadCell(f'"{shortened(text)}" holds two values in one cell. Give each a column of its own.')
    return _numbers(text)


def _without_mark(value: Reported, bare: str, mark: str) -> Reported:
    return replace(value, taken=f'{value.taken or bare}; the mark "{mark}" was left out')


def _word(text: str) -> Reported | None:
    """Return what stands for a trace or for not detected."""
    small = text.lower()
    if small in {"tr", "nd"}:
        return Reported(TRACE, "tr") if small == "tr" else Reported(0.0, "nd")
    if text in _DASHES or small in _NOT_DETECTED:
        return Reported(0.0, "nd", taken="not detected")
    if small in _TRACE:
        return Reported(TRACE, "tr", taken="a trace")
    below = _TRACE_BELOW.fullmatch(text)
    return _less(below[1].strip()) if below else None


def _less(most: str) -> Reported:
    """Return what is less than this: typically half of it."""
    end = share(most)
    return Reported(end / 2, "tr", end, taken=f"anything from 0 to {most}, typically half of it")


def _numbers(text: str) -> Reported:
    below = _BELOW.fullmatch(text)
    if below:
        return _less(below[1].strip())
    spread = _SPREAD.fullmatch(text)
    if spread:
        return Reported(share(spread[1].strip()), taken=f"{spread[1].strip()}; the ± was left out")
    try:
        return Reported(share(text))
    except BadCell as fault:
        word = not re.search(r"\d", text) and text.lower() not in _NO_NUMBERS
        raise BadCell(f"{fault} A trace is written tr, not detected nd." if word else str(fault)) from None


def say_taken(cells: Iterable[tuple[Place, str, Reported | None]], findings: Findings) -> None:
    """Note what unusual tokens were taken for: one finding for each column and meaning, with a count.

    `cells` are `(place of the row, column, what was read)`.
    """
    taken = [(place.at(column), cell.taken) for place, column, cell in cells if cell is not None and cell.taken]
    findings.warn_once("taken-as", ((place, f"taken as {meaning}") for place, meaning in taken))
