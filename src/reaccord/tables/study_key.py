"""One key of the study file: what it takes, and its value read."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable
from typing import Any, NamedTuple

from reaccord.names.key import did_you_mean, nearest
from reaccord.names.text import invisible, shortened
from reaccord.tables import cells
from reaccord.tables.cells import BadCell

TINY = 1e-12
"""A number other than 0 that is smaller is a slip."""


class Key(NamedTuple):
    """One key: what it takes, whether it must be there, its range (shares: fractions), its meaning and unit."""

    takes: str
    meaning: str
    required: bool = False
    least: float = -math.inf
    above: float = -math.inf
    most: float = math.inf
    below: float = math.inf
    choices: tuple[str, ...] = ()
    unit: str = ""


def known_choice(value: object, key: Key) -> None:
    """Raise `BadCell` for a word that is none of the key's."""
    if value not in key.choices:
        said = shortened(str(value))
        raise BadCell(f'"{said}" is none of {", ".join(key.choices)}.{hint_of(str(value), key.choices)}')


def date_of(value: Any) -> datetime.date:
    """Return a date of TOML, or one written as text; `BadCell` else."""
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value
    return cells.date(value if isinstance(value, str) else str(value))


def text_of(value: Any) -> str:
    """Return a text without blanks at its ends; `BadCell` for what is none."""
    if not isinstance(value, str) or not value.strip():
        raise BadCell("text in quotes is needed here.")
    hidden = invisible(value)
    if hidden:
        raise BadCell(f"holds a character nobody sees, {hidden[0]}. Delete it, or type the text anew.")
    return value.strip()


def number_of(value: Any, key: Key) -> float:
    """Return a number in the range of its key, a share as fraction; `BadCell` for what is none."""
    sign = ""
    # a zero means the same with any sign
    if key.takes in {"share", "shares"} and not (type(value) in {int, float} and value == 0):
        if isinstance(value, int | float) and not isinstance(value, bool):
            raise BadCell(f'a share needs its sign: write "{value} %", or ‰ or ppm, in quotes.')
        number, sign = cells.share(text_of(value), sign_needed=True), " %"
    elif isinstance(value, bool) or not isinstance(value, int | float):
        raise BadCell("a number is needed here, without quotes.")
    elif isinstance(value, float) and not math.isfinite(value):
        raise BadCell(f"{value} is not a finite number.")
    elif key.takes == "whole" and not isinstance(value, int):
        raise BadCell("a whole number is needed here.")
    else:
        number = value
    if 0 < abs(number) < TINY:
        raise BadCell(f"{float(number):g}{sign} is out of all measure.")
    in_range(number, key, sign)
    return number


def in_range(number: float, key: Key, sign: str) -> None:
    """Raise `BadCell` for a number out of the key's range; with a sign it is shown in percent."""
    unit = 100 if sign else 1
    if number <= key.above:
        raise BadCell(f"{float(number) * unit:g}{sign} must be above {key.above * unit:g}{sign}.")
    if number >= key.below:
        raise BadCell(f"{float(number) * unit:g}{sign} must be below {key.below * unit:g}{sign}.")
    if number < key.least:
        raise BadCell(f"{float(number) * unit:g}{sign} is below {key.least * unit:g}{sign}.")
    if number > key.most:
        shown = f"{float(number) * unit:g}" if number < 1e300 else "a number that long"
        raise BadCell(f"{shown}{sign} is over {key.most * unit:g}{sign}.")


def hint_of(name: str, known: Iterable[str]) -> str:
    """Return which of the known words may be meant, as a sentence to be added."""
    hint = nearest(name, [item for item in known if item])
    return did_you_mean(hint)
