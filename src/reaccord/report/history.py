"""The record of runs as plain data and as text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from reaccord.balance.record import Change, Event
from reaccord.report.csv_table import Columns, csv_text
from reaccord.report.layout import Column, aligned, counted, on_the_point, paragraph
from reaccord.report.quantities import exact_percent, trimmed

EVENTS: Columns = dict.fromkeys(
    ("number", "time", "command", "study", "status", "wrong", "cost_per_kg", "total_g", "lines", "verdict", "note"), str
)
CHANGES: Columns = dict.fromkeys(("material", "strength", "carrier", "lot", "from_g", "to_g"), str)


@dataclass(frozen=True)
class History:
    """The runs of a log, how many lines could not be read, and what differs between two of its formulas."""

    events: Sequence[Event]
    unread: int = 0
    between: tuple[Event, Event] | None = None
    changes: Sequence[Change] = field(default=())


def history_data(found: History) -> dict[str, Any]:
    """Return `history`'s data: the lines of the log as they are."""
    data: dict[str, Any] = {
        "events": [{"number": event.number, **event.said} for event in found.events],
        "unread": found.unread,
    }
    if found.between:
        rows = [{**change.stock, "from_g": change.from_g, "to_g": change.to_g} for change in found.changes]
        data["between"] = {"numbers": [event.number for event in found.between], "changes": rows}
    return data


def history_csv(found: History) -> str:
    """Return one row a run; of two formulas, one a change."""
    if found.between:
        return csv_text(CHANGES, history_data(found)["between"]["changes"])
    return csv_text(EVENTS, [{**dict.fromkeys(EVENTS), **_row(event)} for event in found.events])


def history_text(found: History, width: int) -> str:
    """Return the record for people."""
    head = f"{counted(len(found.events), 'run')} on record."
    if found.unread:
        head += f" {counted(found.unread, 'line')} cannot be read, perhaps cut short as it was written."
    parts = [paragraph(head, width), _changes(found, width) if found.between else _events(found, width)]
    return "\n\n".join(parts) + "\n"


def _events(found: History, width: int) -> str:
    columns = (Column("No.", right=True), Column("when"), Column("run"), Column("what came of it", wraps=True))
    rows = [
        (str(event.number), str(event.said["time"])[:16].replace("T", " "), str(event.said["command"]), _came(event))
        for event in found.events
    ]
    beneath = [str(event.said.get("note") or "") for event in found.events]
    return aligned(columns, rows, width, beneath)


def _came(event: Event) -> str:
    said = event.said
    if said.get("verdict"):
        return str(said["verdict"]).partition("\n")[0]
    return " ".join(map(str, said.get("errors") or ())) or f"{said['study']}: {said['status']}"


def _changes(found: History, width: int) -> str:
    assert found.between is not None
    first, second = (f"run {event.number} g" for event in found.between)
    if not found.changes:
        return f"{first[:-2].capitalize()} and {second[:-2]} pour the same."
    grams = (Column(first, right=True), Column(second, right=True))
    columns = (Column("Poured otherwise", wraps=True), *grams, Column("lot"))
    before = on_the_point([_grams(change.from_g) for change in found.changes])
    after = on_the_point([_grams(change.to_g) for change in found.changes])
    rows = [
        (_label(change), a, b, str(change.stock["lot"] or ""))
        for change, a, b in zip(found.changes, before, after, strict=True)
    ]
    return aligned(columns, rows, width)


def _label(change: Change) -> str:
    stock = change.stock
    strength = stock["strength"]
    if strength is None or strength == 1:
        return str(stock["material"])
    return f"{stock['material']} {exact_percent(strength)} in {stock['carrier']}"


def _grams(grams: float) -> str:
    return trimmed(f"{grams:.6f}") if grams else ""


def _row(event: Event) -> dict[str, Any]:
    said = {name: event.said.get(name) for name in EVENTS}
    return {**said, "number": event.number, "wrong": event.said.get("misplaced_share"), "verdict": _came(event)}
