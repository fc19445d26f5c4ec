"""What a cell looks like before anybody knows its column: a number, a name, a sentence."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable

_NUMBER = re.compile(
    r"[<>≤≥~≈=\s]*[+-]?(?:\d+(?:[.,]\d+)*|[.,]\d+)(?!\w{3})\D{0,3}(?:(?:±|\+/-|\(|[-–—]|to)\s*[\d.,]+.{0,4})?"
)
_LETTERS = re.compile(r"[^\W\d_]{3}")
_FORMULA = re.compile(r"(?:[A-Z][a-z]?\d{1,3}){2,}[A-Z]?[a-z]?\d{0,3}")
_NO_NAME = {"n.d.", "not detected", "trace", "traces", "tr.", "nist", "std", "std."}
_NOTE = re.compile(r"[*†‡§#¶]|[a-e¹²³ᵃᵇᶜ](?:\s|[A-Z])|.*(?:[:=;]\s|\.$)")
_LONG = 40
"""Characters; a note below a table has more, or begins with its mark."""


def is_number(text: str) -> bool:
    """Whether a cell holds a number, with a sign, a deviation or a mark beside it."""
    return bool(_NUMBER.fullmatch(text.strip()))


def is_word(text: str) -> bool:
    """Whether a cell may be a name: letters in a row, and no molecular formula."""
    return bool(_LETTERS.search(text)) and not _FORMULA.fullmatch(text) and text.lower() not in _NO_NAME


def holds_names(cells: Iterable[str]) -> bool:
    """Whether the cells of a column are names: most are words, and few stand twice."""
    filled = [cell for cell in cells if cell]
    words = [cell for cell in filled if is_word(cell)]
    return bool(words) and 3 * len(words) > 2 * len(filled) and 2 * len({w.casefold() for w in words}) > len(words)


def numbers_rows(cells: Collection[str]) -> bool:
    """Whether a column only numbers its rows: 1, 2, 3."""
    filled = [cell for cell in cells if cell]
    return len(filled) > 2 and all(
        re.fullmatch(r"\W*\d+\W*", cell) and re.sub(r"\D", "", cell) == str(number)
        for number, cell in enumerate(filled, start=1)
    )


def is_note(text: str) -> bool:
    """Whether a text is a sentence, explains a sign or begins with a footnote mark, rather than a name."""
    return len(text) > _LONG or text.count(" ") > 5 or bool(_NOTE.match(text))
