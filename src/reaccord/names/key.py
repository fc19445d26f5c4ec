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
from collections.abc import Iterable
from difflib import get_close_matches
from functools import lru_cache

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
