"""What a chemist reads in each name of the registry, kept in a file: to read all of them takes longer than a small fit.

`python -m reaccord.names.registry_readings` writes `registry_readings.csv` anew, after a change of the registry or of
how names are read; a test tells when that is due.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from reaccord.names.reading import Reading, reading
from reaccord.names.registry import read_registry

FILE = "registry_readings.csv"


@cache
def registry_readings() -> Mapping[str, Reading]:
    """Return the readings by name, as they are kept."""
    text = Path(__file__).with_name(FILE).read_text(encoding="utf-8")
    return {name: Reading(*said) for name, *said in csv.reader(text.splitlines())}


def written() -> str:
    """Return the file as it should be."""
    text = io.StringIO()
    names = dict.fromkeys(name for known in read_registry() for name in (known.name, *known.synonyms))
    csv.writer(text, lineterminator="\n").writerows((name, *reading(name)) for name in names)
    return text.getvalue()


if __name__ == "__main__":
    Path(__file__).with_name(FILE).write_text(written(), encoding="utf-8")
