"""Which findings a screen shows: `check` all of them, the other commands what changes what the result means."""

from __future__ import annotations

import shlex
from collections import Counter
from collections.abc import Collection, Iterator, Sequence

from reaccord.findings import Finding

OF_CELLS = {
    *("cas-of-several", "cas-overridden", "constituent-or-material", "date-ahead", "fraction", "joined", "left-out"),
    *("look-alike", "no-date", "outside-band", "sample-or-column", "taken-as", "unused-composition"),
}
"""Codes of warnings that say how cells were read: they are counted."""
MOST_ALIKE = 3
"""Of the others no more than these of one code are told."""
WHOLE = "check"
"""The command that tells them all."""


def told(command: str, warnings: Sequence[Finding], study: str, formulas: Collection[str] = ()) -> Iterator[str]:
    """Yield the lines that tell warnings; `formulas` are files that `check` does not read, so theirs are told here."""
    if command == WHOLE or not study:
        yield from (f"warning: {finding}" for finding in warnings)
        return
    where, cells, met = f"reaccord {WHOLE} {shlex.quote(study)}", 0, Counter[str]()
    more: list[Finding] = []
    for finding in warnings:
        here = finding.place.file in formulas
        if finding.code in OF_CELLS and not here:
            cells += finding.cells
            continue
        met[finding.code] += 1
        if here or met[finding.code] <= MOST_ALIKE:
            yield f"warning: {finding}"
        else:
            more.append(finding)
    if len(more) == 1:  # it takes no more room than that there is one
        yield f"warning: {more[0]}"
    elif more:
        yield f"{len(more)} more such warnings: {where}"
    if cells:
        yield f"{cells} cell{'s' * (cells > 1)} read with a remark: {where}"
