"""From one setting of the handles to another: the study follows, whatever the order in which that is possible."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from reaccord.desk.handles import handle_of
from reaccord.domain.study import Study
from reaccord.tables.cells import BadCell


@dataclass(frozen=True)
class Move:
    """Where a handle stands, and where it stood in the study as it was read; both as typed."""

    text: str
    was: str


Moves = Mapping[str, Move]
"""By the name of the handle; one that stands where it stood is not in it."""


def follow(study: Study, before: Moves, after: Moves) -> Study:
    """Return the study moved from one setting of the handles to another.

    A step that is not possible yet is taken after the others: a bottle can be left out once no amount asks for it.

    Raises
    ------
    BadCell
        If there is no way, with why the first step that is left is none.
    """
    names = dict.fromkeys((*before, *after))
    wanted = {name: after[name].text if name in after else before[name].was for name in names}
    left = {name: text for name, text in wanted.items() if before.get(name) != after.get(name)}
    while left:
        refused: dict[str, str] = {}
        for name, text in left.items():
            try:
                study = moved(study, name, text)
            except BadCell as fault:
                refused[name] = str(fault)
        if len(refused) == len(left):
            raise BadCell(next(iter(refused.values())))
        left = {name: left[name] for name in refused}
    return study


def moved(study: Study, name: str, text: str) -> Study:
    """Return the study with one handle elsewhere.

    Raises
    ------
    BadCell
        If the handle is not there, what was typed cannot be read, or no study can be made of it.
    """
    handle = handle_of(study, name)
    if handle is None:
        raise BadCell("this is no longer in the study.")
    if handle.cannot:
        raise BadCell(f"it cannot be poured: {handle.cannot}.")
    return handle.moved(study, text)
