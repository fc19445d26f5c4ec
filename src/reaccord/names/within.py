"""Known names inside a name that nothing knows: `methyl eugenol isomer`, `linalool 97 %`, `total geraniol`.

Such a name may mean the known constituent, or another one that begins with it: what makes it another is a word of
chemistry (`linalool oxide`, `dihydro linalool`). Common practice, no source.
"""

from __future__ import annotations

import re

from reaccord.names.index import NameIndex
from reaccord.names.key import fold, name_key
from reaccord.names.reading import LONGEST_READ

SHORTEST_WITHIN = 4
"""Characters of a known name that is looked for inside others; shorter ones are abbreviations of many things."""
MOST_WORDS = 24

_WORD = re.compile(r"[^\W\d_]+|\d+")
_ESTER = (
    r"(?:oate|acetate|formate|propionate|butyrate|val(?:er|erian|)ate|pivalate|caproate|caprylate|caprate|laurate|"
    r"myristate|palmitate|stearate|oleate|linoleate|tiglate|angelate|senecioate|cinnamate|salicylate|"
    r"anthranilate|anisate|phthalate|lactate|malonate|succinate|citrate|tartrate|oxalate|carbonate|sul(?:f|ph)ate|"
    r"phosphate|crotonate|levulinate|pyruvate|geranate|nicotinate|acrylate|gluconate|glycolate|adipate|"
    r"sebacate|fumarate|maleate|undecylenate|carbamate|pelargonate|enanthate)s?"
)
_KIND = (
    r"(?:mono|di|tri|per|hydroper|ep|diep)?ox[iy]des?|(?:di|tri)?sul(?:f|ph)ides?|(?:hemi)?acetals?|ketals?|"
    r"ethers?|esters?|acids?|anhydride|alcohols?|aldehydes?|ketones?|lactones?|lactols?|hydrates?|dimers?|trimers?|"
    r"polymers?|oximes?|imines?|nitriles?|amines?|amides?|thiols?|mercaptans?|glycosides?|glucosides?|quinones?|"
    r"phenols?|schiff|salts?|sodium|potassium"
)
_PREFIX = (
    r"\w*(?:hydro|oxy|oxo|yl|ylidene|ylene)|nor|bisnor|homo|iso|neo|epi|diepi|allo|pseudo|cyclo|bicyclo|seco|retro|"
    r"keto|thio|amino|nitro|chloro|bromo|formyl|sec|tert|cis|trans|ortho|meta|para|alpha|beta|gamma|delta|epsilon|"
    r"zeta|tau|omega|psi"
)
_ENDING = r"ol|al|one|ene|diene|triene|diol|triol|dione|oic|oyl|ane"
_CHEMISTRY = re.compile(rf"\w*{_ESTER}|{_KIND}|{_PREFIX}")
_GENERIC = re.compile(_KIND)
_GLUED_BEHIND = re.compile(_ENDING)
_GLUED_BEFORE = re.compile(r"\d+|[a-z]")
_MATERIAL = re.compile(r"oils?|absolutes?|resinoids?|concretes?|tinctures?|balsams?|essences?|resins?|trees?|woods?")
_REMARK = re.compile(
    r"\d+|[a-d]|isomers?|derivatives?|total|sum|max|min|tent|tentative(?:ly)?|tr|natural|nat|synthetic|pure|purum|extra|"
    r"fcc|bp|usp|ep|content|approx|ca|about|min|grade|racemic|fraction|type|unknown|unidentified|peak|no|nr|of|as|ex"
)


def known_within(index: NameIndex, name: str) -> tuple[str, ...]:
    """Return the constituents that a name holds beside other words, in order of name.

    None if nothing known stands in it, or if a word of chemistry beside it makes it another substance.
    """
    text = fold(name)
    words = [found.span() for found in _WORD.finditer(text)]
    if len(text) > LONGEST_READ or len(words) > MOST_WORDS:
        return ()
    core = _without_remarks(index, text, words)
    if core:
        return (core,)
    found, taken = _spans(index, text, words)
    if not found or any(_makes_another(text, words, at, taken) for at in range(len(words)) if at not in taken):
        return ()
    return tuple(sorted(found))


def other_words(words: frozenset[str]) -> bool:
    """Whether one of these words beside a known name makes it the name of another substance."""
    return any(_CHEMISTRY.fullmatch(word) for word in words)


def _without_remarks(index: NameIndex, text: str, words: list[tuple[int, int]]) -> str | None:
    """Return who is left when words that only say which or how much are taken off the ends, by any reading."""
    first, last = 0, len(words)
    while first < last and _REMARK.fullmatch(text[slice(*words[first])]):
        first += 1
    while last > first and _REMARK.fullmatch(text[slice(*words[last - 1])]):
        last -= 1
    if first and text[words[first - 1][1] :][:1] in tuple("-,'"):  # a locant
        first = 0
    cores = ((start, end) for start in range(first + 1) for end in range(len(words), max(last, start + 1) - 1, -1))
    for start, end in cores:
        core = _span(text, words[start][0], words[end - 1][1])
        found = index.find_lasting(core) if end - start < len(words) and not _GENERIC.fullmatch(core) else None
        if found:
            return found
    return None


def _spans(index: NameIndex, text: str, words: list[tuple[int, int]]) -> tuple[set[str], set[int]]:
    """Return the known names that stand in whole words, the longest first, and which words they take."""
    found: set[str] = set()
    taken: set[int] = set()
    for size in range(len(words), 0, -1):
        for first in range(len(words) - size + 1):
            here = range(first, first + size)
            if not taken.isdisjoint(here):
                continue
            key = name_key(_span(text, words[first][0], words[first + size - 1][1]))
            if len(key) < SHORTEST_WITHIN or _GENERIC.fullmatch(key):  # "alcohol" is ethanol only when alone
                continue
            name = index.lastingly(key)
            if name:
                found.add(name)
                taken.update(here)
    return found, taken


def _span(text: str, start: int, end: int) -> str:
    """Return a piece of the text with the bracket that opens or closes one inside it."""
    piece = text[start:end]
    missing = piece.count(")") - piece.count("(")
    if missing > 0 and text[start - 1 : start] == "(":
        return "(" + piece
    return piece + ")" if missing < 0 and text[end : end + 1] == ")" else piece


def _makes_another(text: str, words: list[tuple[int, int]], at: int, taken: set[int]) -> bool:
    start, end = words[at]
    word = text[start:end]
    if _CHEMISTRY.fullmatch(word):
        return True
    behind = at - 1 in taken
    if behind and _MATERIAL.fullmatch(word):
        return True
    if text[end : end + 1] in ("-", ",", "'") and any(later > at for later in taken) and _GLUED_BEFORE.fullmatch(word):
        return text[end + 1 : end + 2] not in ("", " ")
    return text[start - 1 : start] == "-" and _GLUED_BEHIND.fullmatch(word) is not None
