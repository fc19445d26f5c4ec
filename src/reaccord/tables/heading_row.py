"""Which row of a table holds the headings: titles stand above it, and one heading may span several below it."""

from __future__ import annotations

from collections.abc import Sequence

from reaccord.findings import Findings, Place
from reaccord.names.text import shortened
from reaccord.tables.cell_kinds import holds_names, is_note, is_number, is_word
from reaccord.tables.heading_words import bare, is_aside, is_heading, names_something
from reaccord.tables.raw import RawTable
from reaccord.tables.written import visible

Lines = list[tuple[int, list[str]]]
"""Rows of cells, each with the number of its line."""
LONGEST_HEADING = 200
"""Characters."""
_LOOKED_AT = 15
"""Rows at the top of a table among which the headings are looked for."""


def table_of_rows(lines: Lines, file: str, findings: Findings, cut: str = "") -> RawTable | None:
    """Find the headings among numbered rows, and take what stands below as rows under them.

    What stands above them is left out and said. `cut` is the sign that parts the cells of a text: a row with more cells
    than there are headings has been cut by it.
    """
    if not lines:
        findings.error("empty-table", "the table is empty. Its first line must be the headings.", Place(file))
        return None
    first, after = _heading_rows(lines)
    _say_above(lines[:first], file, findings)
    levels, below = [cells for _, cells in lines[first:after]], lines[after:]
    stated = max(len(cells) for cells in levels)
    place = Place(file, lines[after - 1 if len(levels) == 1 else first][0])
    if len(levels) == 1 and _is_data(levels[0], below):
        text = "this row holds values, and no headings stand above it. Write them there. If it is the headings, "
        findings.error("heading", f"{text}call the column of the names constituent (of bottles: material).", place)
        return None
    width = stated if cut else max(len(cells) for _, cells in (*below, (0, levels[0])))
    names, over = _merged(levels, max(width, stated))
    if not _all_headed(names, stated, below, place, findings):
        return None
    headings = _once([" ".join(visible(name, place, findings).splitlines()) for name in names], place, findings)
    if headings is None:
        return None
    if cut:
        _say_too_many(below, stated, file, findings, cut)
    kept = [number for number, heading in enumerate(headings) if heading]
    padded = ((line, [*cells, *[""] * (len(headings) - len(cells))]) for line, cells in below)
    rows = tuple((line, {headings[n]: cells[n] for n in kept}) for line, cells in padded)
    spanned = {headings[n]: over[n] for n in kept if over[n]}
    return RawTable(file, tuple(headings[n] for n in kept), rows, place.row or 1, spanned, cut)


def _filled(cells: Sequence[str]) -> int:
    return sum(map(bool, cells))


def _heading_rows(lines: Lines) -> tuple[int, int]:
    """Return the first row of the headings and the first below them."""
    top = [cells for _, cells in lines[:_LOOKED_AT]]
    found = 0
    for number, cells in enumerate(top):
        if any(map(is_number, cells)) and not any(map(is_heading, cells)):
            break  # the headings are above what they head
        known = sum(map(is_heading, filter(None, cells)))
        alone = _filled(cells) == 1 and (number > 0 or max(map(_filled, top)) > 1)
        if known and not alone and (number == 0 or known > 1 or _filled(cells) > _filled(top[0])):
            found = number
            break
    first, after = found, found + 1
    if found and not top[found - 1][0] and _filled(top[found - 1]) and _spans(top[found - 1], top[found]):
        first -= 1
    name = next((n for n, cell in enumerate(top[found]) if names_something(cell)), 0)
    while after < len(top) and after - first < 3 and _stands_below(top[after], top[after - 1], name):
        after += 1
    return first, after


def _is_data(cells: Sequence[str], below: Lines) -> bool:
    """Whether a row is one like those below it: no heading in it, a name above names, a number above numbers."""
    if any(map(is_heading, filter(None, cells))):
        return False
    under = [[row[n] for _, row in below if n < len(row) and row[n]] for n in range(len(cells))]
    kinds = [(cell, column) for cell, column in zip(cells, under, strict=True) if cell and column]
    names = any(is_word(cell) and holds_names([cell, *column]) for cell, column in kinds)
    return names and any(is_number(cell) and all(map(is_number, column)) for cell, column in kinds)


def _spans(above: Sequence[str], below: Sequence[str]) -> bool:
    """Whether what stands above another row of headings stands above some of them."""
    return all(n < len(below) and below[n] for n, cell in enumerate(above) if cell)


def _stands_below(cells: Sequence[str], above: Sequence[str], name: int) -> bool:
    """Whether a row below the headings is a row of headings too: nothing up to the name, no number.

    Something of it stands under a blank, or all of it are units.
    """
    under_blank = any(cell and (n >= len(above) or not above[n]) for n, cell in enumerate(cells))
    units = all(bare(cell) in {"", "%"} for cell in cells if cell)
    return (
        not any(cells[: name + 1])
        and (under_blank or units)
        and _filled(cells) > 0
        and not any(map(is_number, cells))
        and not any(map(is_note, cells))
    )


def _merged(levels: Sequence[Sequence[str]], width: int) -> tuple[list[str], list[tuple[str, ...]]]:
    """Return each column's heading, and what stands above it; one above a blank spans the columns up to the next."""
    grid = [[*level, *[""] * (width - len(level))] for level in levels]
    for depth, level in enumerate(grid[:-1]):
        for n in range(1, width):
            if not level[n] and any(below[n] for below in grid[depth + 1 :]):
                level[n] = level[n - 1] if any(below[n - 1] for below in grid[depth + 1 :]) else ""
    parts = [[level[n] for level in grid if level[n]] for n in range(width)]
    for part in parts:
        while len(part) > 1 and bare(part[-1]) in {"", "%"}:
            part.pop()  # a unit alone is no heading
    names = [part[-1] if part else "" for part in parts]
    again = {name for name in names if name and names.count(name) > 1}
    names = [
        " ".join(dict.fromkeys(part[-2:])) if name in again else name for name, part in zip(names, parts, strict=True)
    ]
    return names, [tuple(part[:-1]) for part in parts]


def _say_above(above: Lines, file: str, findings: Findings) -> None:
    if above:
        said = f"{len(above)} row{'s' * (len(above) > 1)} above the headings left out"
        shown = next(cell for cell in above[0][1] if cell)
        findings.warn("left-out", f'{said}: "{shortened(shown)}".', Place(file, above[0][0]))


def _say_too_many(below: Lines, stated: int, file: str, findings: Findings, cut: str) -> None:
    """Say which rows have more cells than there are headings, the surplus blank or not: a comma has cut one of them."""
    if all(len(cells) > stated for _, cells in below) and not any(any(cells[stated:]) for _, cells in below):
        return  # a comma behind each row
    cure = f"A cell with a {({',': 'comma', ';': 'semicolon'}).get(cut, 'tab')} in it needs quotes."
    for line, cells in below:
        prose = all(not cell or not is_number(cell) for cell in cells) and is_note(cut.join(cells))
        if len(cells) > stated and not prose:
            text = f"{len(cells)} cells under {stated} heading{'s' * (stated != 1)}. {cure}"
            findings.error("too-many-cells", text, Place(file, line))


def _all_headed(names: list[str], stated: int, below: Lines, place: Place, findings: Findings) -> bool:
    """Whether each column with cells has a heading; a column of names without one is called by its place."""
    if len(below) > 1 and all(any(cells[stated:]) for _, cells in below):
        text = f"every row has more cells than there are headings ({stated}). Give each column one."
        findings.error("heading", text, place)
        return False
    last = max((n for n, name in enumerate(names) if name), default=-1)
    for number, name in enumerate(names, start=1):
        if len(name) > LONGEST_HEADING:
            text = f"heading number {number} has {len(name)} characters. Is this line the headings?"
            findings.error("heading", text, place)
            return False
        cells = [] if name else [row[number - 1] for _, row in below if len(row) >= number and row[number - 1]]
        if not cells:
            continue
        if not (holds_names(cells) and len(cells) > 1):
            text = f"heading number {number} is blank{', but there are cells under it' if number > last + 1 else ''}."
            findings.error("heading", text, place)
            return False
        names[number - 1] = f"column {number}"
    return True


def _once(headings: list[str], place: Place, findings: Findings) -> list[str] | None:
    seen: dict[str, str] = {}
    for number, given in enumerate(headings):
        heading = given
        while heading.casefold() in seen and is_aside(given):  # of no use, so that two are no harm: `A, SD, B, SD`
            heading += " "
        headings[number] = heading
        before = seen.get(heading.casefold()) if heading else None
        if before == heading:
            findings.error("heading", "this heading stands twice.", place.at(heading))
            return None
        if before is not None:
            text = f'"{before}" and "{heading}" differ in capitals only. Give one of them another name.'
            findings.error("heading", text, place.at(heading))
            return None
        seen[heading.casefold()] = heading
    return headings
