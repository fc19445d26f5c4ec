"""A target that differs from one read before in plain numbers alone: its rows, without the table being read again.

That is told from the text: both are the same but for cells that are plain numbers, nothing was said of the one before,
and each number that differs was read as a share or an end of a band.
"""

from __future__ import annotations

import re
from itertools import groupby
from typing import NamedTuple

from reaccord.domain.lines import Reported, TargetLine
from reaccord.tables.cell_kinds import numbers_rows
from reaccord.tables.cells import BadCell, share

_NUMBER = re.compile(r"(?<=[,\n])[0-9]+(?:\.[0-9]+)?(?=[,\r\n])")
_OTHERWISE = re.compile(r"[\"|;\t\0]")
"""What may part or join cells otherwise than by commas and line ends."""
_ENDS = ("low", "high")


class Parted(NamedTuple):
    """The text of a table: `#` for each cell that is a plain number, and these numbers in their order."""

    form: str
    numbers: tuple[str, ...]


class Spot(NamedTuple):
    """Where a number was read to: the row's place among the lines, and the sample or the end of the band."""

    line: int
    heading: str


def parted(content: bytes) -> Parted | None:
    """Return the bytes of a table as form and numbers; None where it is no plain text of cells parted by commas."""
    try:
        text = f"\n{content.decode('utf-8-sig')}\n"
    except UnicodeDecodeError:
        return None
    return None if _OTHERWISE.search(text) else Parted(_NUMBER.sub("#", text), tuple(_NUMBER.findall(text)))


def spots_of(table: Parted, lines: tuple[TargetLine, ...]) -> tuple[Spot | None, ...] | None:
    """Return where each number of a table was read to, None for one that was not; None if it cannot be told at all."""
    rows = [row.split(",") for row in table.form.split("\n")]  # the form begins with a line end: row 1 is at 1
    at = {line.at.row: number for number, line in enumerate(lines)}
    filled = [number for number, row in enumerate(rows) if any(cell.strip() for cell in row)]
    if not lines or len(at) != len(lines) or filled[1:] != sorted(row for row in at if row is not None):
        return None
    headings, numbers, spots = [cell.strip() for cell in rows[filled[0]]], iter(table.numbers), list[Spot | None]()
    for row in filled:
        for heading, cell in zip(headings, rows[row], strict=False):
            if cell.strip() == "#":
                read = _read(lines[at[row]], heading) if row in at else None
                spots.append(Spot(at[row], heading) if read == Reported(_share(next(numbers))) else None)
    return tuple(spots) if len(spots) == len(table.numbers) else None


def refigured(
    lines: tuple[TargetLine, ...], spots: tuple[Spot | None, ...], before: Parted, now: Parted, file: str
) -> tuple[TargetLine, ...] | None:
    """Return the lines of a table of the same form, called `file`; None where it has to be read to know."""
    shares = [dict(line.shares) for line in lines]
    ends = [{name: getattr(line, name) for name in _ENDS} for line in lines]
    for spot, was, number in zip(spots, before.numbers, now.numbers, strict=True):
        if was == number:
            continue
        value = _share(number)
        if spot is None or not 0 <= value <= 1:
            return None
        (ends if spot.heading in _ENDS else shares)[spot.line][spot.heading] = Reported(value)
    if any(end["low"] and end["high"] and end["low"].number > end["high"].number for end in ends):
        return None
    if _may_number_rows(spots, now):
        return None
    return tuple(
        line._replace(at=line.at._replace(file=file), shares=of, **end)
        for line, of, end in zip(lines, shares, ends, strict=True)
    )


def _read(line: TargetLine, heading: str) -> Reported | None:
    return getattr(line, heading) if heading in _ENDS else line.shares.get(heading)


def _share(number: str) -> float:
    """Return a number as a share, below 0 if it is none."""
    try:
        return share(number)
    except BadCell:
        return -1.0


def _may_number_rows(spots: tuple[Spot | None, ...], table: Parted) -> bool:
    """Whether the numbers of a sample may be taken for those of its rows."""
    found = sorted((spot.heading, spot.line, number) for spot, number in zip(spots, table.numbers, strict=True) if spot)
    return any(numbers_rows([number for *_, number in of]) for _, of in groupby(found, key=lambda item: item[0]))
