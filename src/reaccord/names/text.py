"""The text of a cell as a person sees it: what is invisible in it, which footnote marks it bears, its short form."""

from __future__ import annotations

import re
import unicodedata

LONGEST_SHOWN = 40
"""Characters of a cell that a message repeats; a cell can hold a whole file."""

_MARK = r"[*†‡§¶]+|\^\(?\w{1,2}(?:,\w{1,2})*\)?|(?<!Δ)[¹²³⁰⁴-⁹ᵃ-ᵛᶜᶠ]+"
_ANY_MARK = re.compile(r"[*†‡§¶^¹²³⁰⁴-⁹ᵃ-ᵛᶜᶠ]")
_MARKS_BEHIND = re.compile(rf"(.*[^\s*†‡§¶^])\s*((?:{_MARK})+)", re.DOTALL)
_MARKS_BEFORE = re.compile(r"([*†‡§¶]+)\s*([^\s*†‡§¶].*)", re.DOTALL)
_NUMBER_BEHIND = re.compile(  # behind a hyphen it is a locant
    r"(.*[^\s-])\s*(\(\d{1,2}\)|\([a-d]\)|\[(?:\d{1,3}|[a-h])(?:[,\-–]\s?(?:\d{1,3}|[a-h]))*\])"
)
_SCRIPTS = ("LATIN", "CYRILLIC")
_UNSEEN = {"Cf": "format character", "Cc": "control character", "Co": "private character", "Cs": "half a character"}
"""Unicode's categories of what has no glyph of its own."""


def shortened(text: str) -> str:
    """Return the text, or its beginning if it is too long to repeat in a message."""
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 3].rstrip() + "..."


def one_line(text: str) -> str:
    """Return the text with single blanks in place of line breaks, tabs and several blanks."""
    return " ".join(text.split())


def invisible(text: str) -> tuple[str, str] | None:
    """Return the first character nobody sees, as `U+202E (right-to-left override)`, and the text without any."""
    if text.isprintable():
        return None
    hidden = [char for char in text if unicodedata.category(char) in _UNSEEN and char not in "\n\r\t"]
    if not hidden:
        return None
    name = unicodedata.name(hidden[0], _UNSEEN[unicodedata.category(hidden[0])]).lower()
    return f"U+{ord(hidden[0]):04X} ({name})", "".join(char for char in text if char not in hidden)


def mixed_letters(text: str) -> str:
    """Return the first Cyrillic letter in a text of Latin ones, as `U+0410 (cyrillic capital letter a)`; or ""."""
    if text.isascii():
        return ""
    letters = {char: unicodedata.name(char, "") for char in text if char.isalpha()}
    found = {script: [c for c, name in letters.items() if name.startswith(script)] for script in _SCRIPTS}
    if not all(found.values()):
        return ""
    char = found["CYRILLIC"][0]
    return f"U+{ord(char):04X} ({letters[char].lower()})"


def without_marks(text: str) -> tuple[str, str]:
    """Return a name without footnote marks, and the marks: `Linalool*`, `linalool^a`, `† linalool`.

    >>> without_marks("Linalool*")
    ('Linalool', '*')
    """
    if not _ANY_MARK.search(text):
        return text, ""
    behind = _MARKS_BEHIND.fullmatch(text)
    if behind:
        return behind[1], behind[2]
    before = _MARKS_BEFORE.fullmatch(text)
    return (before[2], before[1]) if before else (text, "")


def without_number(text: str) -> tuple[str, str]:
    """Return a name without a footnote number or letter in brackets, and that: `Linalool (1)`, `linalool [3]`.

    A bottle may well be called `Base (2)`: whether it is a mark only the one knows who knows the names.
    """
    found = _NUMBER_BEHIND.fullmatch(text)
    return (found[1], found[2]) if found else (text, "")
