"""Several names in one cell: where one ends and the next begins."""

from __future__ import annotations

import re

JOINER = " + "
BETWEEN = re.compile(r"\s+\+\s+|\s*[/&;]\s*|,\s+|\s+(?:and|or)\s+", re.IGNORECASE)
"""What may stand between the names of several constituents."""

_GREEK = r"α|β|γ|δ|ε|τ|alpha|beta|gamma|delta|epsilon|tau"
_SIDE = r"cis|trans|E|Z"
_SHARED = re.compile(
    rf"({_GREEK})-?\s*(?:[,/&+;]|and|or)\s*({_GREEK})[- ]\s*(\w.*)"
    rf"|\(?({_SIDE})\)?-?\s*(?:[/&+;]|and|or)\s*\(?({_SIDE})\)?[- ]\s*(\w.*)",
    re.IGNORECASE,
)
_BRACKETS = {"(": 1, "[": 1, "{": 1, ")": -1, "]": -1, "}": -1}


def split_joined(text: str) -> tuple[str, ...]:
    """Return the names that a cell joins by a plus between blanks, without blanks round them.

    A plus inside brackets joins nothing; brackets that do not pair are taken as letters.

    >>> split_joined("citral (geranial + neral) + linalool")
    ('citral (geranial + neral)', 'linalool')
    """
    pieces = [""]
    for piece in text.split(JOINER):
        pieces[-1] += piece
        if _open(pieces[-1]):
            pieces[-1] += JOINER
        else:
            pieces.append("")
    if pieces.pop():  # a bracket that nothing closes
        pieces = text.split(JOINER)
    return tuple(piece.strip() for piece in pieces)


def sharing(text: str) -> tuple[str, ...]:
    """Return the names of two isomers that share what stands behind; none where a comma is part of one name.

    >>> sharing("α,β-pinene"), sharing("cis/trans-rose oxide"), sharing("cis,trans-farnesol")
    (('α-pinene', 'β-pinene'), ('cis-rose oxide', 'trans-rose oxide'), ())
    """
    found = _SHARED.fullmatch(text)
    one, other, rest = (group for group in found.groups() if group) if found else ("", "", "")
    return (f"{one}-{rest}", f"{other}-{rest}") if one.lower() != other.lower() else ()


def _open(piece: str) -> bool:
    return sum(_BRACKETS.get(char, 0) for char in piece) > 0
