"""The built-in constituents, read from `registry.csv`.

The entries were typed from general knowledge (memory) and checked, number by number, against the open
`chemicals` package's offline database: formula and molar mass by CAS number
(`tests/reference/test_registry.py`, which also lists what that package lacks or merges). Where a number
was in doubt it is left blank. A CAS number among the synonyms is a further number of the same
constituent, mostly an enantiomer that the trade does not keep apart. Naphthalene counts as two benzene
rings, a benzene ring fused to a heterocycle as one.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

from reaccord.domain.constituent import Constituent

COLUMNS = ("constituent", "cas", "synonyms", "formula", "benzene_rings", "carrier", "members")
MARKS = {"yes": True, "": False}


@cache
def read_registry() -> tuple[Constituent, ...]:
    """Return the built-in constituents in the order of the file."""
    text = Path(__file__).with_name("registry.csv").read_text(encoding="utf-8")
    header, *rows = csv.reader(text.splitlines())
    if tuple(header) != COLUMNS:
        raise ValueError(f"registry.csv has the columns {', '.join(header)}, not {', '.join(COLUMNS)}")
    return tuple(_constituent(*row) for row in rows)


def _constituent(
    name: str, cas: str, synonyms: str, formula: str, rings: str, carrier: str, members: str
) -> Constituent:
    return Constituent(
        name=name,
        cas=cas,
        synonyms=_split(synonyms),
        formula=formula,
        benzene_rings=int(rings) if rings else None,
        carrier=MARKS[carrier],
        members=_split(members),
    )


def _split(cell: str) -> tuple[str, ...]:
    return tuple(cell.split(";")) if cell else ()
