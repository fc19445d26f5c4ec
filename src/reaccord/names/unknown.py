"""What a name that nothing knows may have been meant as."""

from __future__ import annotations

import re
from collections.abc import Collection

from reaccord.findings import Findings, Place
from reaccord.names.index import NameIndex
from reaccord.names.key import did_you_mean, one_slip
from reaccord.names.likely import likely
from reaccord.names.text import shortened

SHOWN = 3
"""Names that a message offers."""
_BETWEEN = re.compile(r"\s+\+\s+|\s*[/&;]\s*|,\s+|\s+(?:and|or)\s+", re.IGNORECASE)


def doubt_unknown(
    index: NameIndex, name: str, place: Place, findings: Findings, extra_known: Collection[str] = ()
) -> None:
    """Warn if a name that nothing knows may be another spelling of a known one, or is one typing slip from it."""
    nothing = f'nothing is called "{shortened(name)}"; it is taken as a constituent of its own.'
    alike = likely(index, name)
    if alike:
        meant = " or ".join(f'"{other}"' for other in alike[:SHOWN]) + (" or another" if len(alike) > SHOWN else "")
        findings.warn(
            "maybe-same",
            f"{nothing} If {meant} is meant, write that, or put it among its synonyms in the constituents table.",
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
    if len(pieces) < 2 or not any(known) or (not all(known) and "," in name and likely(index, name)):
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
