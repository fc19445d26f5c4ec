"""README and DEVELOPERS taken apart: sections, tables, fenced blocks."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]


def text(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def section(name: str, heading: str) -> str:
    """Return what stands under a heading, up to the next one of any depth."""
    found = re.search(rf"^#+ {re.escape(heading)}\n(.*?)(?=^#+ |\Z)", text(name), re.MULTILINE | re.DOTALL)
    assert found, f"{name} has no heading {heading}"
    return found[1]


def blocks(words: str, language: str = "") -> list[str]:
    """Return the fenced blocks of one language (blank: those of none)."""
    fenced = re.findall(r"^```(\w*)\n(.*?)^```$", words, re.MULTILINE | re.DOTALL)
    return [block for kind, block in fenced if kind == language]


def rows(words: str) -> list[list[str]]:
    """Return the cells of every table row but headings."""
    lines = [line for line in words.splitlines() if line.startswith("|")]
    cells = [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines]
    rules = {number for number, row in enumerate(lines) if set(row) <= set("|-: ")}
    return [row for number, row in enumerate(cells) if number not in rules and number + 1 not in rules]
