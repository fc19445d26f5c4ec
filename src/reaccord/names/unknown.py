"""What a name that nothing knows may have been meant as."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator

from reaccord.findings import Findings, Place
from reaccord.names.index import NameIndex
from reaccord.names.key import did_you_mean, fold, one_slip
from reaccord.names.text import shortened

_TURNED = re.compile(r"(?:\((?:\+|-|±|\+/-|[rs](?:,[rs])*)\)-?|(?:dl|rac|[dl])-)\s*(\S.*)")
"""A sign of rotation or configuration before a name: it may or may not make another substance for the person."""
_LATIN = {"a": "alpha", "b": "beta", "g": "gamma", "d": "delta"}
_LONE_LETTER = re.compile(r"(?<![a-z])[abgd](?=[-\s])")
_BETWEEN = re.compile(r"\s+\+\s+|\s*[/&;]\s*|,\s+|\s+(?:and|or)\s+", re.IGNORECASE)


def doubt_unknown(
    index: NameIndex, name: str, place: Place, findings: Findings, extra_known: Collection[str] = ()
) -> None:
    """Warn if a name that nothing knows is one typing slip, a sign of rotation or a Greek letter from a known one."""
    nothing = f'nothing is called "{shortened(name)}"; it is taken as a constituent of its own.'
    alike = next(filter(None, map(index.find, _other_readings(name))), None)
    if alike:
        findings.warn(
            "maybe-same",
            f'{nothing} If "{alike.name}" is meant, write that, or put it among its synonyms in the constituents '
            "table.",
            place,
        )
        return
    slip = one_slip(name, [*index.spellings, *extra_known])
    if slip:
        findings.warn("maybe-misspelt", nothing + did_you_mean(slip), place)


def doubt_several(index: NameIndex, name: str, place: Place, findings: Findings) -> None:
    """Note a cell that seems to hold several constituents: an error if each is known, a warning if one is."""
    pieces = [piece.strip() for piece in _BETWEEN.split(name) if piece.strip()]
    known = [index.knew(piece) for piece in pieces]
    if len(pieces) < 2 or not any(known):
        return
    joined = shortened(" + ".join(pieces))
    cure = f'In a target several in one row are joined as "{joined}"; anywhere else each needs a row of its own.'
    if all(known):
        findings.error(
            "joined",
            f'"{shortened(name)}" names {len(pieces)} constituents. {cure} If it is one substance, give it a row in '
            "the constituents table.",
            place,
        )
    else:
        findings.warn(
            "joined", f'"{shortened(name)}" is taken as one constituent. If it names several: {_small(cure)}', place
        )


def _small(sentence: str) -> str:
    return sentence[0].lower() + sentence[1:]


def _other_readings(name: str) -> Iterator[str]:
    """Yield the name with Greek letters for lone Latin ones, and without a sign of rotation."""
    plain = fold(name)
    lone = list(_LONE_LETTER.finditer(plain))
    if lone:
        yield _LONE_LETTER.sub(lambda found: _LATIN[found[0]], plain)
    if len(lone) > 1:
        for found in lone:
            yield plain[: found.start()] + _LATIN[found[0]] + plain[found.end() :]
    turned = _TURNED.fullmatch(plain)
    if turned:
        yield turned[1]
