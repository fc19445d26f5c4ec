"""When two spellings are the same name, and which known name a mistyped one is near.

Case, blanks, accents, Greek letters against their names, kinds of dashes, hyphens (except between two
digits), points for commas between locants and the brackets round a stereo descriptor do not make a different
name. A sharp s that stands alone is a beta, a rho before a hyphen is a p (`ß-pinene`, `ρ-cymene`); signs of phonetics
and mathematics that look like Greek letters are those letters (`ɑ-pinene`, `∂-cadinene`), a Greek capital Epsilon or
Zeta where a descriptor stands in brackets is E or Z. Both signs in brackets are `(±)`, however they are written: `(+-)`
is no `(+)`. What a name says in other words is for `reading.py`.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable
from difflib import get_close_matches
from functools import lru_cache

SHORTEST_SLIP = 5
"""Shorter names are abbreviations as often as words: one letter of three is no typing slip."""
CLOSE_ENOUGH = 0.7
"""Least likeness (difflib ratio) of a name that is worth offering as a hint."""

_LOOSE_HYPHEN = re.compile(r"(?<![\d(])-|(?<=\d)-(?!\d)|(?<=\()-(?!\))")
_STEREO = re.compile(r"\((\d*[ezrs](?:,\d*[ezrs])*)\)")
_DOTTED = re.compile(r"(?:^|(?<=[-(]))\d{1,2}(?:\.\d{1,2})+(?=-)")
_SHARP_S = re.compile(r"(?<![^\W\d_])[ßẞ]")
_RHO = re.compile(r"(?<![^\W\d_])ρ(?=\s*[-‐‑‒–—−])")
_BOTH_SIGNS = re.compile(r"[(\[]\s*(?:\+\s*[/,]?\s*[-\u2010-\u2015−]|[-\u2010-\u2015−]\s*[/,]?\s*\+|[∓±])\s*[)\]]")
_SIDE_IN_GREEK = re.compile(r"(?<=[(\[\d,])(\s*)([ΕΖ])(?=\s*[,)\]])")
_GREEK_IN_PHONETICS = str.maketrans("ɑɣꞵɛ∂∆", "αγβεδδ")
_WORD = re.compile(r"[a-z]+")
_GREEK = frozenset(
    unicodedata.name(chr(code)).split()[-1].lower().replace("lamda", "lambda")
    for code in (*range(0x3B1, 0x3C2), *range(0x3C3, 0x3CA))
)


def fold(text: str) -> str:
    """Return the text in lower case, Greek letters by name, accents gone, dashes and primes alike."""
    if "+" in text or "∓" in text:  # or the loose hyphen of `(+-)` is dropped, and the racemate is one enantiomer
        text = _BOTH_SIGNS.sub("(±)", text)
    if text.isascii():
        return text.lower()
    text = _SIDE_IN_GREEK.sub(lambda found: found[1] + "EZ"["ΕΖ".index(found[2])], text.translate(_GREEK_IN_PHONETICS))
    small = unicodedata.normalize("NFKD", _SHARP_S.sub("β", text).casefold())
    return "".join(_plain(c) for c in _RHO.sub("p", small))


def _plain(char: str) -> str:
    if char.isascii():
        return char
    category = unicodedata.category(char)
    if category == "Mn":
        return ""
    if category == "Pd" or char == "−":
        return "-"
    if char in "′’‘´":
        return "'"
    name = unicodedata.name(char, "")
    if name.startswith("GREEK SMALL LETTER"):
        return name.split()[-1].lower().replace("lamda", "lambda")
    return char


@lru_cache(maxsize=16384)
def name_key(text: str) -> str:
    """Return what two spellings of one name have in common.

    >>> name_key("E-β-Ocimene") == name_key("(E)-beta-ocimene")
    True
    """
    tight = "".join(fold(text).split())
    if "-" in tight:
        if "." in tight:
            tight = _DOTTED.sub(lambda found: found[0].replace(".", ","), tight)
        tight = _LOOSE_HYPHEN.sub("", tight)
    return _STEREO.sub(r"\1", tight) if "(" in tight else tight


def nearest(text: str, candidates: Iterable[str]) -> str | None:
    """Return the candidate most like the text, for a hint; None if none is like it."""
    by_key = {name_key(c): c for c in sorted(candidates, reverse=True)}
    close = get_close_matches(name_key(text), list(by_key), n=1, cutoff=CLOSE_ENOUGH)
    return by_key[close[0]] if close else None


def did_you_mean(hint: str | None) -> str:
    """Return the sentence that offers a nearest name, with the blank before it; nothing without a hint."""
    return f' Did you mean "{hint}"?' if hint else ""


def is_slip(text: str, known: str) -> bool:
    """Tell whether a text is one typing slip of a letter away from a known name.

    A slip is one letter too many, too few, wrong, or swapped with its neighbour. Digits and commas
    tell substances apart, and so do letters that stand alone (the p of p-cymene, the D of
    germacrene D) and Greek letters: a difference there is none.
    """
    key = name_key(text)
    if len(key) < SHORTEST_SLIP or not _one_letter_apart(key, name_key(known)):
        return False
    return _same_marks(Counter(_WORD.findall(fold(text))), known)


def _one_letter_apart(left: str, right: str) -> bool:
    if abs(len(left) - len(right)) > 1 or left == right:
        return False
    if left[:1] != right[:1] and left[-1:] != right[-1:]:  # one slip leaves one end as it was: most names end here
        return False
    shorter = min(len(left), len(right))
    start = next((i for i in range(shorter) if left[i] != right[i]), shorter)
    room = shorter - start
    end = next((i for i in range(room) if left[-1 - i] != right[-1 - i]), room)
    here, there = left[start : len(left) - end], right[start : len(right) - end]
    if not _WORD.fullmatch(here + there):
        return False
    swapped = len(here) == len(there) == 2 and here == there[::-1]
    return swapped or max(len(here), len(there)) == 1


def _same_marks(words: Counter[str], candidate: str) -> bool:
    others = Counter(_WORD.findall(fold(candidate)))
    here, there = set(words - others), set(others - words)
    if any(len(word) == 1 for word in here | there):
        return False
    return not (here and there and here | there <= _GREEK)
