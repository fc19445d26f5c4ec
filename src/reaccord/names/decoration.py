"""What stands round a name and is no part of it: quotes, a full stop behind, the number of its row, its CAS number.

Common practice, no source. Three dots are no full stop: they may stand for the rest of a name.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

from reaccord.names.cas import normalise_cas

QUOTES = "quotes round a name: left out"
MARK = 'a mark such as "." or ";" behind a name: left out'
NUMBERING = "a number or bullet before a name: taken as that of its row and left out"
CAS = "a CAS number beside a name in one cell: taken as its CAS number"


class Plain(NamedTuple):
    """A name without its decoration, the CAS number that stood with it, its number, and sentences of what was left."""

    name: str
    cas: str = ""
    number: str = ""
    left_out: tuple[str, ...] = ()


_QUOTES = "\"'`´‘’‚‛“”„‟«»‹› "
_BEHIND = re.compile(r"(.*[^\s.:;,…])\s*(?:[:;,]+|\.)", re.DOTALL)
_NUMBERED = re.compile(r"(?:(?:\(?(\d{1,4})[.)]|\[\d{1,4}\]|[#№]\s?\d{1,4}[.):]?|[•·▪●○■□►‣▸])\s+)(\S.*)", re.DOTALL)
_DASHES = str.maketrans(dict.fromkeys("‐‑‒–—−", "-"))
_NUMBER = r"[(\[]?\s*(?:CAS[^\d()\[\]]{0,14})?(?<!\d)(0{0,4}[1-9]\d{1,6}-\d{2}-\d)(?!\d)\s*[)\]]?"
_CAS_BEHIND = re.compile(
    rf"(.*?[^\s,;:/(\[-])(?:\s*[,;:/]\s*|\s+-\s+|\s+|(?=[(\[])){_NUMBER}", re.IGNORECASE | re.DOTALL
)
_CAS_BEFORE = re.compile(rf"{_NUMBER}(?:\s*[,;:/]\s*|\s+-\s+|\s+)([^\s,;:/-].*)", re.IGNORECASE | re.DOTALL)


@lru_cache(maxsize=16384)
def undress(text: str) -> Plain:
    """Return the name without what certainly is no part of it, if there is a name.

    >>> undress("1. methyl eugenol (93-15-2)")[:2]
    ('methyl eugenol', '93-15-2')
    """
    plain = Plain(text)
    while (less := _once(plain)) != plain:
        plain = less
    return plain


def _once(plain: Plain) -> Plain:
    name = plain.name
    bare = name.strip(_QUOTES)
    if bare and bare != name:
        return _less(plain, bare, QUOTES)
    if found := _BEHIND.fullmatch(name):
        return _less(plain, found[1], MARK)
    if not plain.cas:
        dashed = name.translate(_DASHES)
        if found := _CAS_BEHIND.fullmatch(dashed):
            return _less(plain, name[: found.end(1)], CAS)._replace(cas=normalise_cas(found[2]))
        if found := _CAS_BEFORE.fullmatch(dashed):
            return _less(plain, name[found.start(2) :], CAS)._replace(cas=normalise_cas(found[1]))
    if NUMBERING not in plain.left_out and (found := _NUMBERED.fullmatch(name)):
        return _less(plain, found[2], NUMBERING)._replace(number=found[1] or "")
    return plain


def _less(plain: Plain, name: str, sentence: str) -> Plain:
    return plain._replace(name=name, left_out=tuple(dict.fromkeys((*plain.left_out, sentence))))
