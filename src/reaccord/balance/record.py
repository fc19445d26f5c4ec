"""The record: what a log of runs holds, and what differs between two formulas in it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reaccord.findings import Findings, InvalidInput, Place, UsageError
from reaccord.tables.raw import read_bytes

Line = Mapping[str, Any]
OF_EVERY_EVENT = ("time", "command", "study", "status", "exit_code")
STOCK = ("material", "strength", "carrier", "lot")


@dataclass(frozen=True)
class Event:
    """One run of the log: its number, counted from 1 over the lines that can be read, and what it says."""

    number: int
    said: Line

    @property
    def formula(self) -> Sequence[Line]:
        """The formula it is of, of a batch that is corrected as it then is; empty if of none."""
        return self.said.get("formula") or self.said.get("poured") or ()


@dataclass(frozen=True)
class Change:
    """One stock whose grams differ between two formulas."""

    stock: Line
    from_g: float
    to_g: float


def events(path: Path) -> tuple[list[Event], int]:
    """Return the runs of a log and how many lines cannot be read: one was cut short if the machine went down.

    Raises
    ------
    InvalidInput
        If the file cannot be read or no line of it is a run.
    """
    findings = Findings()
    found = read_bytes(path, path.name, findings)
    findings.raise_errors()
    assert found is not None
    lines = [line for line in found[0].decode("utf-8", "replace").splitlines() if line.strip()]
    read = [event for event in map(event_of, lines) if event is not None]
    if not read:
        findings.error("no-log", "no line of this file is a run: is it a file that --log wrote?", Place(path.name))
        raise InvalidInput(findings.errors)
    return [Event(number, said) for number, said in enumerate(read, 1)], len(lines) - len(read)


def changes(first: Event, second: Event) -> list[Change]:
    """Return what differs between two formulas, most grams first.

    Raises
    ------
    UsageError
        If one of the runs has no formula.
    """
    grams: dict[tuple[Any, ...], list[float]] = {}
    for place, event in enumerate((first, second)):
        if not event.formula:
            raise UsageError(f"--between: run {event.number} ({event.said['command']}) has no formula.")
        for line in event.formula:
            key = tuple(line.get(name) for name in STOCK)
            grams.setdefault(key, [0.0, 0.0])[place] += float(line["grams"])
    moved = [Change(dict(zip(STOCK, key, strict=True)), *pair) for key, pair in grams.items() if pair[0] != pair[1]]
    return sorted(moved, key=lambda change: (-abs(change.to_g - change.from_g), str(change.stock["material"])))


def event_of(line: str | bytes) -> Line | None:
    """Return what a line of a log says, None if it is none."""
    try:
        said = json.loads(line)
    except ValueError:
        return None
    return said if isinstance(said, dict) and all(name in said for name in OF_EVERY_EVENT) else None
