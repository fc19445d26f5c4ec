"""The text of a cell before it is read: visible, on one line, a name without footnote marks."""

from __future__ import annotations

from reaccord.findings import Findings, Place
from reaccord.names.text import invisible, mixed_letters, one_line, shortened, without_marks

LONGEST = 200
"""Characters; the longest systematic names have about half of this."""


def visible(text: str, place: Place, findings: Findings) -> str:
    """Return the text without characters nobody sees; one in it is an error that names it."""
    hidden = invisible(text)
    if hidden is None:
        return text
    what, rest = hidden
    findings.error("invisible", f"holds a character nobody sees, {what}. Delete it, or type the cell anew.", place)
    return rest.strip()


def plain(text: str, place: Place, findings: Findings) -> str:
    """Return the text on one line; one that is too long for any name is an error."""
    line = one_line(text)
    if len(line) > LONGEST:
        findings.error("too-long", f'"{shortened(line)}" has {len(line)} characters: {LONGEST} are the most.', place)
    return line[:LONGEST]


def name(text: str, place: Place, findings: Findings, marks: list[tuple[Place, str]]) -> str:
    """Return a name without footnote marks; each mark left out goes to `marks`, to be said once."""
    bare, mark = without_marks(plain(text, place, findings))
    if mark:
        marks.append((place, f'"{mark}" at a name: taken as a footnote mark and left out'))
    foreign = mixed_letters(bare)
    if foreign:
        text = f'"{shortened(bare)}" mixes alphabets: {foreign} looks like a Latin letter and makes another name.'
        findings.warn("look-alike", text, place)
    return bare
