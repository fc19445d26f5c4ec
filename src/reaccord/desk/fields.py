"""How the handles stand on the page: what each says, why what was typed cannot be, where its slider is."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from reaccord.desk.handle import ON, Group, Handle
from reaccord.desk.handles import handle_of
from reaccord.desk.session import Session
from reaccord.tables.cells import BadCell

STEPS = 200
"""Of a slider, from end to end."""
FURTHER = 2.0
"""Times where a handle stood, or where the formula stands: as far as its slider goes."""
SLIDING = {"cost_per_kg", "lines", "undeclared", "carrier_max_g", "most", "accord_g", "minimum_g", "dosage", "shorten"}
"""Keys with a slider; every rule has one."""
HEADS: dict[Group, str] = {
    "limits": "Limits",
    "batch": "Batch and product",
    "rules": "Restricted substances",
    "bottles": "Bottles",
    "rows": "Weight of each constituent",
    "closeness": "What counts as close",
    "samples": "Samples of the target",
}
NOTES: dict[Group, str] = {
    "rules": "These maxima are your table's limits. Moved here, they say what a limit costs, not what is allowed.",
    "bottles": "Grams are of the material undiluted, from all its bottles and dilutions together.",
    "rows": "What a row is off counts so many times, before it is squared; 0: it does not count.",
}


def groups(session: Session) -> list[dict[str, Any]]:
    """Return the handles in their groups, as they are shown."""
    found: dict[Group, list[dict[str, Any]]] = {group: [] for group in HEADS}
    for number, handle in enumerate(session.handles()):
        found[handle.group].append(_cells(session, handle, number))
    return [
        {
            "group": group,
            "head": HEADS[group],
            "note": NOTES.get(group, ""),
            "handles": cells,
            "moved": sum(bool(cell["was"]) for cell in cells),
        }
        for group, cells in found.items()
        if cells
    ]


def fields(session: Session, names: Iterable[str]) -> list[dict[str, Any]]:
    """Return how handles stand, by name."""
    found = (handle_of(session.study, name) for name in names)
    return [_standing(session, handle) for handle in found if handle is not None]


def _standing(session: Session, handle: Handle) -> dict[str, Any]:
    typed, says = session.wrong.get(handle.name, ("", ""))
    move = session.setting.moves.get(handle.name)
    text = handle.now(session.study)
    was = "" if move is None else _was(handle, move.was)
    return {
        "name": handle.name,
        "text": typed if says else text,
        "now": text,
        "says": says,
        "was": was,
        "slide": _slid(handle, text),
    }


def _was(handle: Handle, text: str) -> str:
    if handle.shape == "switch":
        return "in at first" if text == ON else "out at first"
    table = "your table: " if handle.group in {"rules", "rows"} else "was "
    return f"{table}{text or 'no limit'}"


def _slid(handle: Handle, text: str) -> float | None:
    """Return where a slider stands for what a handle says; None where there is no limit."""
    try:
        value = handle.read(text)
    except BadCell:
        return None
    return None if not isinstance(value, float | int) else float(value) * (100 if handle.shape == "share" else 1)


def _cells(session: Session, handle: Handle, number: int) -> dict[str, Any]:
    standing = _standing(session, handle)
    return {
        **standing,
        "id": f"h{number}",
        "group": handle.group,
        "label": handle.label,
        "shape": handle.shape,
        "unit": handle.unit,
        "choices": handle.choices,
        "cannot": handle.cannot,
        "on": standing["text"] == ON,
        "slider": _slider(session, handle),
    }


def _slider(session: Session, handle: Handle) -> dict[str, float | str] | None:
    """Return the ends and the step of a handle's slider: from nothing to twice where it stood at first."""
    key = handle.name.split('"')[3]
    if handle.shape not in {"number", "share", "whole"} or not (handle.group == "rules" or key in SLIDING):
        return None
    move = session.setting.moves.get(handle.name)
    first = _slid(handle, move.was if move else handle.now(session.study))
    top = first or _reached(session, key)
    if not top:
        return None
    if handle.shape == "whole":
        return {"least": 1 if key == "lines" else 0, "most": max(math.ceil(FURTHER * top), 4), "step": 1, "sign": ""}
    step = 10.0 ** math.floor(math.log10(FURTHER * top / STEPS))
    step *= next(times for times in (1, 2, 5, 10) if FURTHER * top / (step * times) <= STEPS * 1.001)
    most = float(f"{step * round(FURTHER * top / step):.9g}")
    most = min(most, 100.0) if handle.shape == "share" else most
    return {
        "least": step if key in {"accord_g", "minimum_g", "dosage"} or handle.group == "rules" else 0,
        "most": most,
        "step": float(f"{step:.6g}"),
        "sign": " %" if handle.shape == "share" else "",
    }


def _reached(session: Session, key: str) -> float:
    """Return where the formula stands in what has no limit yet."""
    if session.answer is None:
        return {"lines": 20.0, "most": 4.0}.get(key, 0.0)
    judged = session.answer.judged
    totals = judged.totals
    return {
        "cost_per_kg": totals.cost_per_kg or 0.0,
        "lines": float(len(judged.lines)),
        "most": float(sum(line.stock.recipe is not None for line in judged.lines)) or 2.0,
        "undeclared": 100 * totals.undeclared_g / totals.accord_g,
        "carrier_max_g": totals.carrier_g,
    }.get(key, 0.0)
