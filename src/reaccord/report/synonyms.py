"""Names that may mean known constituents, as a constituents table for the person to confirm."""

from __future__ import annotations

from reaccord.domain.study import Study
from reaccord.report.csv_table import csv_text


def synonyms_csv(study: Study) -> str:
    """Write each name that was asked about as a synonym of who may be meant.

    A name that may mean several stands with each of them: reading such a table asks which one (`name-claimed-twice`).
    A name with a semicolon cannot stand among synonyms and is left out.
    """
    meant: dict[str, list[str]] = {}
    for name, constituents in sorted(study.asked.items()):
        for constituent in constituents if ";" not in name else ():
            meant.setdefault(constituent, []).append(name)
    rows = ({"constituent": constituent, "synonyms": ";".join(names)} for constituent, names in sorted(meant.items()))
    return csv_text({"constituent": str, "synonyms": str}, rows)
