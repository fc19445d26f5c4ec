"""Columns that line up at any width. What gives way is text; a number is never cut."""

from __future__ import annotations

import io
import textwrap
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from itertools import zip_longest
from typing import NamedTuple

from rich.cells import cell_len

GAP = "  "
NARROWEST = 16
"""No column of text is made narrower than this; a terminal narrower still wraps the line itself."""


class Column(NamedTuple):
    """A heading and how its cells stand; cells of a column that `wraps` take several lines if they must."""

    heading: str
    right: bool = False
    wraps: bool = False


def aligned(columns: Sequence[Column], rows: Sequence[Sequence[str]], width: int, beneath: Sequence[str] = ()) -> str:
    """Lay out a table.

    Parameters
    ----------
    columns, rows
        One cell for each column in every row.
    width
        Cells of the terminal (a Chinese character takes two); kept unless only cutting a number would keep it.
    beneath
        A note for each row, indented under it; blank for none.
    """
    cells = [[printable(cell) for cell in row] for row in rows]
    widths = _widths(columns, cells, width)
    lines = _row([column.heading for column in columns], columns, widths)
    for number, row in enumerate(cells):
        lines += _row(row, columns, widths)
        if number < len(beneath) and beneath[number]:
            lines += [f"{GAP}{line}" for line in wrapped(printable(beneath[number]), width - len(GAP))]
    return "\n".join(lines)


def natural_width(columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> int:
    """Return how wide the table is if nothing gives way."""
    return sum(_natural(columns, rows)) + len(GAP) * (len(columns) - 1)


def on_the_point(numbers: Sequence[str]) -> list[str]:
    """Pad decimal numbers on the right so that, set to the right, their points stand below each other."""
    after = [len(text) - text.rfind(".") if "." in text else 0 for text in numbers]
    most = max(after, default=0)
    return [text + " " * (most - length) for text, length in zip(numbers, after, strict=True)]


def counted(number: int, noun: str) -> str:
    """Write how many, with the noun's plural where it takes one."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def headed(title: str, verdict: str, width: int) -> str:
    """Return what a result begins with: whose it is and what came out, in one sentence."""
    return paragraph(f"{title or 'Untitled study'}: {verdict}", width)


def paragraphs(texts: Iterable[str], width: int, indent: str = "") -> str:
    """Wrap each text as a paragraph of its own, one below the other."""
    return "\n".join(paragraph(text, width, indent) for text in texts)


def paragraph(text: str, width: int, indent: str = "") -> str:
    """Wrap one paragraph between words; `indent` starts every line but the first."""
    return textwrap.fill(
        printable(text), max(width, NARROWEST), subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )


def printable(text: str) -> str:
    """Replace control characters: a name from somebody's table must not steer a terminal."""
    return "".join("\ufffd" if unicodedata.category(sign) == "Cc" else sign for sign in text)


def wrapped(text: str, width: int) -> list[str]:
    """Return the lines of a cell, broken between words where that goes."""
    if cell_len(text) <= width:
        return [text]
    if all(cell_len(word) == len(word) <= width for word in text.split(" ")):
        return textwrap.wrap(text, width, break_on_hyphens=False)
    from rich.console import Console  # it knows wide signs; to import it takes longer than to lay out a page
    from rich.text import Text

    console = Console(file=io.StringIO(), width=max(width, 1), force_terminal=False, force_jupyter=False)
    lines = Text(text).wrap(console, max(width, 1), overflow="fold")
    return [line.plain.rstrip() for line in lines]


def _natural(columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> list[int]:
    return [
        max(
            cell_len(column.heading), *(cell_len(row[number].rstrip() if column.wraps else row[number]) for row in rows)
        )
        if rows
        else cell_len(column.heading)
        for number, column in enumerate(columns)
    ]


def _widths(columns: Sequence[Column], rows: Sequence[Sequence[str]], width: int) -> list[int]:
    """Take what is too much from the columns of text: first between words, then, if it must be, inside them."""
    widths = _natural(columns, rows)
    over = sum(widths) + len(GAP) * (len(columns) - 1) - width
    wrapping = [number for number, column in enumerate(columns) if column.wraps]
    words = [max((cell_len(word) for row in rows for word in row[number].split()), default=0) for number in wrapping]
    for least in ([max(NARROWEST, longest) for longest in words], [NARROWEST] * len(words)):
        over = _narrowed(widths, dict(zip(wrapping, least, strict=True)), over)
    return widths


def _narrowed(widths: list[int], least: Mapping[int, int], over: int) -> int:
    """Take from the widest column that can still give way, again and again; return what is too much still."""
    while over > 0:
        widest = max((n for n in least if widths[n] > least[n]), key=lambda number: widths[number], default=None)
        if widest is None:
            break
        widths[widest] -= 1
        over -= 1
    return over


def _row(cells: Sequence[str], columns: Sequence[Column], widths: Sequence[int]) -> list[str]:
    stacks = [
        wrapped(cell, size) if column.wraps else [cell]
        for cell, column, size in zip(cells, columns, widths, strict=True)
    ]
    lines = []
    for parts in zip_longest(*stacks, fillvalue=""):
        placed = [_placed(part, size, column.right) for part, size, column in zip(parts, widths, columns, strict=True)]
        lines.append(GAP.join(placed).rstrip())
    return lines


def _placed(text: str, size: int, right: bool) -> str:
    blank = " " * max(size - cell_len(text), 0)
    return blank + text if right else text + blank
