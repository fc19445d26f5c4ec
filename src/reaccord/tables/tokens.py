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
_LETTERS = r"(?:[a-fh]|[a-h]{2,5})(?:,\s?[a-h])*"
_MARK = rf"(?:(?:{_LETTERS})?{_SIGN}|\((?:\d{{1,3}}|[a-z]{{1,3}})\)|{_LETTERS})"
_LESS = rf"[<≤]\s*=?\s*({_VALUE})"
_PLUS_MINUS = r"(?:±|\+/-|\+-)"
_PLAIN = re.compile(r"[0-9]+(?:\.[0-9]*)?")
_BELOW = re.compile(_LESS)
_TRACE_BELOW = re.compile(rf"(?:tr\.?|traces?)\s*[,:;]?\s*[\(\[]?\s*{_LESS}\s*[\)\]]?", re.IGNORECASE)
_SPREAD = re.compile(rf"({_VALUE})\s*(?:{_PLUS_MINUS}\s*{_VALUE}|\(\s*{_PLUS_MINUS}?\s*[0-9]*\.[0-9]+\s*\))\s*%?")
_RANGE = re.compile(rf"({_VALUE})\s*(?:-|\u2013|\u2014|\u2212|to|\.\.\.?)\s*({_VALUE})")
_AT_LEAST = re.compile(
    rf"(?:[>≥]\s*=?|min\.?|minimum|at least|over|from)\s*({_VALUE})|({_VALUE})\s*min\.?", re.IGNORECASE
)
_AT_MOST = re.compile(rf"(?:max\.?|maximum|at most|up to)\s*({_VALUE})|({_VALUE})\s*max\.?", re.IGNORECASE)
_ABOUT = re.compile(rf"(?:~|≈|∼|ca\.?|c\.|circa|about|approx\.?)\s*({_VALUE})", re.IGNORECASE)
_TWO = re.compile(rf"({_VALUE})(?:\s*[/;|]\s*|\s+)({_VALUE})(?:.*)")
_MARKED = re.compile(rf"((?:[<≤]\s*=?\s*)?{_VALUE}|{_VALUE}\s*{_PLUS_MINUS}\s*{_VALUE})\s*({_MARK})")
_WORD_MARKED = re.compile(
    rf"(.*\S)\s*({_SIGN})|([-\u2010-\u2015\u2212])\s*([a-h])|(tr\.?|t|nd|n\.d\.)\s([a-h])", re.IGNORECASE
)
_LONGEST_WORD = 60
_GRAM = re.compile(rf"({_VALUE})\s*(?:g|gram|grams|mg|kg)")
MARK, DEVIATION = "the footnote mark behind it left out", "the number; the deviation behind it is not used"


def reported(text: str) -> Reported:
    """Read a share as an analysis prints it.

    Raises
    ------
    BadCell
        If it is no share, or several values in one cell; the message says what to do.
    """
    word = Reported(share(text)) if _PLAIN.fullmatch(text) else _word(text)
    if word is not None:
        return word
    if _GRAM.fullmatch(text):
        raise BadCell(f'"{shortened(text)}" is a mass, not a share. Write percent by mass.')
    ends = _range(text)
    if ends is not None:
        return ends
    spread = _SPREAD.fullmatch(text)
    if spread:
        return Reported(share(spread[1].strip()), taken=DEVIATION)
    marked = _MARKED.fullmatch(text)
    if marked:
        return _without_mark(_numbers(marked[1].strip()))
    behind = _WORD_MARKED.fullmatch(text) if len(text) < _LONGEST_WORD else None
    word = _word(next(group for group in behind.groups() if group)) if behind else None
    if word is not None:
        return _without_mark(word)
    if _TWO.fullmatch(text):
        raise BadCell(f'"{shortened(text)}" holds two values in one cell. Give each a column of its own.')
    return _numbers(text)


def pure(text: str) -> Reported:
    """Read a purity: a share, or a range of it (`> 95 %`, `97-99`)."""
    return _range(text) or Reported(share(text))


def _range(text: str) -> Reported | None:
    """Return a range with its middle; one end alone goes to 0 or to 100 %."""
    both, least, most = _RANGE.fullmatch(text), _AT_LEAST.fullmatch(text), _AT_MOST.fullmatch(text)
    about = _ABOUT.fullmatch(text)
    if about:
        return Reported(share(about[1].strip()), taken='the number, though it says "about"')
    if both:
        ends = both[1].strip(), both[2].strip()
        sign = next((sign for sign in ("%", "‰", "ppm") if ends[1].endswith(sign) and ends[0][-1:].isdigit()), "")
        low, high, said = share(ends[0] + sign), share(ends[1]), "low and high; typically their middle"
    elif least:
        low, high, said = share((least[1] or least[2]).strip()), 1.0, "the low end, to 100 %; typically the middle"
    elif most:
        low, high, said = 0.0, share((most[1] or most[2]).strip()), "the high end, from 0; typically the middle"
    else:
        return None
    if low > high:
        raise BadCell(f'"{shortened(text)}" is a range whose low end is above the high one.')
    return Reported((low + high) / 2, "", high, said, low)


def _without_mark(value: Reported) -> Reported:
    bare = {"tr": "a trace", "nd": "not detected"}.get(value.mark, "the number")
    return replace(value, taken=f"{value.taken or bare}; {MARK}")


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
        return Reported(share(spread[1].strip()), taken=DEVIATION)
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
