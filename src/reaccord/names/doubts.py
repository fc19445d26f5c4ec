"""What is said of a name that nothing knows: whom it may mean, that it holds several, that nobody asked."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from reaccord.findings import Findings, Place
from reaccord.names.index import NameIndex
from reaccord.names.joined import BETWEEN, sharing
from reaccord.names.suggest import spelt_otherwise, suggest
from reaccord.names.text import shortened

SHOWN = 3
"""Names that a message offers."""
LISTED = 6
"""Names that nothing knows in one message."""


def doubt_unknown(
    index: NameIndex,
    name: str,
    place: Place,
    findings: Findings,
    extra_known: Collection[str] = (),
    *,
    remarks: bool = True,
) -> bool:
    """Warn of what a name that nothing knows may have been meant as, and tell whether there was a doubt.

    `extra_known` are names of materials; `remarks` says whether a remark may stand beside a known name.
    """
    hint = suggest(index, name, tuple(extra_known), remarks=remarks)
    shown = [f'"{other}"' for other in hint.names]
    said = f'nothing is called "{shortened(name)}"; it is taken as a constituent of its own.'
    if hint.by == "slip":
        shown += [f'"{other}"' for other in hint.materials]
        findings.warn("maybe-misspelt", f"{said} Did you mean {_or(shown)}?", place)
    else:
        shown += [f'the material "{other}"' for other in hint.materials[:SHOWN]]
        if not shown:
            return False
        cure = ". If it is another substance, give it a row"
        if hint.by == "spelling":
            cure = ", or put it among its synonyms"
        findings.warn(
            "maybe-same", f"{said} If {_or(shown)} is meant, write that{cure} in the constituents table.", place
        )
    index.asked[name] = tuple(dict.fromkeys(c.name for other in hint.names if (c := index.find(other))))
    return True


def say_unknown(unknown: Mapping[str, tuple[Place, ...]], doubted: Collection[str], findings: Findings) -> None:
    """Note, once for each file, the names that nothing knows and no other finding has named."""
    files: dict[str, list[tuple[int, str, Place]]] = {}
    for name, places in unknown.items():
        if name not in doubted:
            files.setdefault(places[0].file, []).append((places[0].row or 0, name, places[0]))
    for rows in files.values():
        rows.sort(key=lambda row: row[:2])
        names = ", ".join(shortened(name) for _, name, _ in rows[:LISTED])
        more = f" and {len(rows) - LISTED} more" if len(rows) > LISTED else ""
        if len(rows) == 1:
            said = (
                f'nothing is called "{names}"; it is taken as a constituent of its own, and only a limit on this very '
            )
            said += "name counts it. If it is known under another name, write that; else"
        else:
            said = f"{len(rows)} names that nothing knows are taken as constituents of their own, and only limits on "
            said += (
                f"these very names count them: {names}{more}. Where one is known under another name, write that; else"
            )
        findings.warn("unknown-names", f"{said} give it a row in the constituents table.", rows[0][2])


def _or(alike: Sequence[str]) -> str:
    return " or ".join(alike[:SHOWN]) + (" or another" if len(alike) > SHOWN else "")


def doubt_several(index: NameIndex, name: str, place: Place, findings: Findings) -> bool:
    """Note a cell that seems to hold several constituents: an error if each is known, a warning if one is."""
    isomers = [piece for piece in sharing(name) if index.knew(piece)]
    pieces = [piece.strip() for piece in BETWEEN.split(name) if any(char.isalpha() for char in piece)]
    known = [index.knew(piece) for piece in pieces]
    if len(isomers) == 2:
        pieces, known = isomers, [False]  # perhaps the name of a mixture
    elif len(pieces) < 2 or not any(known) or (not all(known) and "," in name and spelt_otherwise(index, name)):
        return False
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
    return True


def _small(sentence: str) -> str:
    return sentence[0].lower() + sentence[1:]
