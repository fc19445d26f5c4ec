"""Pages of `reaccord help`: found, and their placeholder lines filled from the schema.

`{{columns bottles}}` stands for the columns of a table, `{{keys limits}}` for the keys of a section of the study file
(`{{keys study}}`: those outside a section), so that no page says again what the schema says.
"""

from __future__ import annotations

import re
import textwrap
from importlib.resources import files

from reaccord.manual.schema import columns_of, keys_of

TOPICS = (
    "start",
    "tables",
    "names",
    "limits",
    "safety",
    "closeness",
    "answers",
    "desk",
    "choices",
    "proofs",
    "mathematics",
    "bench",
    "smelling",
    "many",
    "python",
    "formats",
    "errors",
    "time",
)
"""In the order of a first reading."""

_FILLED = {"columns": columns_of, "keys": keys_of}
_PLACEHOLDER = re.compile(r"^\{\{(columns|keys) ([\w.]+)\}\}$", re.MULTILINE)


def page(topic: str) -> str:
    """Return a page as Markdown."""
    return _PLACEHOLDER.sub(lambda found: _FILLED[found[1]](found[2]), written(topic))


def written(topic: str) -> str:
    """Return a page as it was written, its placeholders in it."""
    return files(__package__).joinpath(f"{topic}.md").read_text(encoding="utf-8")


def line(topic: str) -> str:
    """Return what a page is about: its heading, behind the topic."""
    return written(topic).partition("\n")[0].partition(": ")[2]


def section_of(heading: str) -> tuple[str, str]:
    """Return the page that has a section of this heading, a command say, and the section; blank if none has."""
    for topic in TOPICS:
        _, found, behind = page(topic).partition(f"\n## {heading}\n")
        if found:
            section = behind.partition("\n## ")[0].strip()
            return topic, f"## {heading}\n\n{section}\n"
    return "", ""


def contents(width: int) -> str:
    """Return the list of all topics, as plain text."""
    ends = "reaccord help TOPIC shows a page, reaccord COMMAND --help the options of a command."
    column = max(map(len, TOPICS)) + 4
    listed = [
        textwrap.fill(line(topic), width, initial_indent=f"  {topic:<{column - 2}}", subsequent_indent=" " * column)
        for topic in TOPICS
    ]
    return "\n".join([*listed, "", textwrap.fill(ends, width), ""])
