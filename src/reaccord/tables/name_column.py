"""The column that names the rows: by its heading, else the only one that holds names."""

from __future__ import annotations

from reaccord.findings import Findings
from reaccord.tables.cell_kinds import holds_names
from reaccord.tables.heading_words import key, names_something
from reaccord.tables.headings import renamed
from reaccord.tables.raw import RawTable


def with_name_column(raw: RawTable, column: str, others: frozenset[str], findings: Findings) -> RawTable:
    """Return the table with the column that names its rows called `column`, where no heading or a wrong one says so.

    `others` are columns that hold names of something else. A heading that says what it stands above is left for
    `settle_headings`.
    """
    free = [h for h in raw.headings if h not in others]
    if any(key(heading) == column for heading in free):
        return raw
    headed = [heading for heading in free if names_something(heading)]
    naming = [heading for heading in free if holds_names([row[heading] for _, row in raw.rows])]
    fitting = [heading for heading in headed if heading in naming] or naming
    if len(fitting) != 1 or headed == fitting:
        return raw
    findings.warn("taken-as", f"taken as the column {column}: it alone holds names.", raw.heading(fitting[0]))
    return renamed(raw, {fitting[0]: column})
