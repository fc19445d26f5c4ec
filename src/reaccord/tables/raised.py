"""Raised and lowered characters in a cell of a workbook: a footnote digit must not become part of a number."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from reaccord.names.text import one_line, shortened

if TYPE_CHECKING:
    from openpyxl.cell.rich_text import CellRichText
    from openpyxl.worksheet.worksheet import Worksheet

_NUMBER = re.compile(r"\W*\d[\d\W]*(?:[eE][+-]?\d+)?\s*(?:ppm)?\W*")
_FOOTNOTE = re.compile(r"\w{1,2}(?:,\w{1,2})*")
_DIGITS = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
Run = tuple[str, str]
"""Neighbouring characters of one height: text, and `superscript`, `subscript` or ""."""


class Raised(ValueError):
    """A raised or lowered digit stands at a number; the message says what to do."""


def rich_cells(sheet: Worksheet) -> dict[str, CellRichText]:
    """Return the cells in which the letters are not all alike, by coordinate."""
    from openpyxl.cell.rich_text import CellRichText

    return {
        cell.coordinate: cell.value for row in sheet.iter_rows() for cell in row if isinstance(cell.value, CellRichText)
    }


def shown(rich: CellRichText) -> str:
    """Return the text of a cell with what is raised behind it as the footnote mark it looks like.

    `linalool` with a raised 1 is `linalool¹`, with a raised `a,b` `linalool^a,b`; what is lowered is text as any
    other, as in C15.

    Raises
    ------
    Raised
        If there is a raised or lowered digit at a number: `3` with a raised 1 would read as 31.
    """
    runs = _runs(rich)
    level = "".join(text for text, height in runs if not height)
    if _NUMBER.fullmatch(level):
        for text, height in runs:
            if height and any(char.isdigit() for char in text):
                where = "raised" if height == "superscript" else "lowered"
                said = f"shows a {where} {shortened(one_line(text))} at {shortened(one_line(level))}: take it out"
                raise Raised(said)
    if not level.strip():
        return "".join(text for text, _ in runs)
    return "".join(
        _mark(text, last=not _rest(runs, at)) if height == "superscript" else text
        for at, (text, height) in enumerate(runs)
    )


def _rest(runs: list[Run], at: int) -> str:
    return "".join(text for text, _ in runs[at + 1 :]).strip()


def _mark(text: str, *, last: bool) -> str:
    """Return raised text as a person sees it, as far as there are characters for it."""
    bare = text.strip()
    if bare.isascii() and bare.isdigit():
        return bare.translate(_DIGITS)
    return f"^{bare}" if last and _FOOTNOTE.fullmatch(bare) else text


def _runs(rich: CellRichText) -> list[Run]:
    runs: list[Run] = []
    for block in rich:
        font = None if isinstance(block, str) else block.font
        height = (font.vertAlign if font is not None else None) or ""
        height = "" if height == "baseline" else height
        if runs and runs[-1][1] == height:
            runs[-1] = (runs[-1][0] + str(block), height)
        else:
            runs.append((str(block), height))
    return runs
