"""README and DEVELOPERS taken apart: sections, tables, fenced blocks."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]


def text(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def section(name: str, heading: str) -> str:
    """Return what stands under a heading, up to the next one of any depth; a comment in a fenced block is none."""
    under, inside, found = False, False, []
    for line in text(name).splitlines(keepends=True):
        inside ^= line.startswith("```")
        if not inside and re.match("#+ ", line):
            under = line.strip("# \n") == heading
        elif under:
            found.append(line)
    assert found, f"{name} has no heading {heading}"
    return "".join(found)


def fenced(words: str) -> list[tuple[str, str]]:
    """Return every fenced block with its language, in order."""
    return re.findall(r"^```(\w*)\n(.*?)^```$", words, re.MULTILINE | re.DOTALL)


def blocks(words: str, language: str = "") -> list[str]:
    """Return the fenced blocks of one language (blank: those of none)."""
    return [block for kind, block in fenced(words) if kind == language]


def rows(words: str) -> list[list[str]]:
    """Return the cells of every table row but headings."""
    lines = [line for line in words.splitlines() if line.startswith("|")]
    cells = [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines]
    rules = {number for number, row in enumerate(lines) if set(row) <= set("|-: ")}
    return [row for number, row in enumerate(cells) if number not in rules and number + 1 not in rules]
