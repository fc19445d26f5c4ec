"""One line of JSON a run, for those who keep a log."""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from reaccord import __version__
from reaccord.cli.result import Result
from reaccord.findings import ReaccordError, UsageError
from reaccord.report.files import append_line, need_place, refuse_inputs, same_file

OF_THE_DEVIATION = ("measure", "scale", "value", "bound", "gap", "misplaced_share")
OF_TABLES = {".toml", ".csv", ".tsv", ".xlsx"}
OF_A_LINE = ("material", "strength", "carrier", "lot", "grams")
WIDE = 10_000
"""Columns: the verdict is kept as one line."""
LONGEST_LINE = 2**20
"""Bytes read to see what a file begins with."""


def need_log(log: Path, out: Path | None) -> None:
    """Raise `UsageError` unless a line can be appended: what is there must be a log already, no table and not `out`."""
    if log.suffix.lower() in OF_TABLES:
        raise UsageError(f"--log {log}: a log holds lines of JSON, not a table; name it runs.jsonl.")
    refuse_inputs(log, ())
    need_place(log, append=True)
    if same_file(out, log):
        raise UsageError("--out and --log name the same file.")
    if not log.is_file():
        return
    from reaccord.balance.record import event_of

    try:
        with log.open("rb") as stream:
            first = stream.readline(LONGEST_LINE)
    except OSError as fault:
        raise UsageError(f"cannot write {log}: {fault.strerror or fault}.") from None
    if first and event_of(first) is None:
        raise UsageError(f"{log} is there already and is no log of runs; name another file.")


def log_result(log: Path, command: str, subject: str, result: Result, note: str = "") -> None:
    """Note what came out: when, of which inputs, how close, at what cost; formula, what was poured, a note."""
    data = result.data
    deviation, totals = data.get("deviation") or {}, data.get("totals") or {}
    if not isinstance(deviation, Mapping):  # of a formula that nothing was solved for
        deviation = {"value": deviation}
    line = {
        "title": data.get("title"),
        "date": data.get("date"),
        **{name: deviation[name] for name in OF_THE_DEVIATION if name in deviation},
        **{name: totals[name] for name in ("total_g", "cost_per_kg") if name in totals},
        **({"lines": len(data["formula"])} if "formula" in data else {}),
        **({"counts": data["counts"]} if "counts" in data else {}),
        **_kept(data),
        "verdict": result.text(WIDE).partition("\n")[0],
        **({"note": note} if note else {}),
        "inputs": data.get("inputs", []),
    }
    _append(log, command, subject, result.status, result.exit_code, line)


def log_failure(log: Path, command: str, subject: str, error: ReaccordError, note: str = "") -> None:
    """Note that nothing came out, and why."""
    line = {"errors": [str(f) for f in error.errors], **({"note": note} if note else {})}
    _append(log, command, subject, error.status, error.exit_code, line)


def _kept(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return the formula a result is of (`weigh` calls it lines, a series its base), and what was really poured."""
    several = data.get("formulas") or []
    only = several[0].get("formula") if len(several) == 1 else None
    stated = (data.get(name) for name in ("formula", "lines", "base"))
    formula = next((lines for lines in stated if isinstance(lines, list)), only)
    kept = {"formula": formula, "poured": data.get("poured")}
    return {name: [_line(line) for line in lines] for name, lines in kept.items() if lines}


def _line(line: Mapping[str, Any]) -> dict[str, Any]:
    return {name: line[name] for name in OF_A_LINE if name in line}


def _append(log: Path, command: str, subject: str, status: str, exit_code: int, more: dict[str, Any]) -> None:
    line = {
        "time": datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
        "version": __version__,
        "command": command,
        "study": subject,
        "status": status,
        "exit_code": exit_code,
        **more,
    }
    append_line(log, json.dumps(line, ensure_ascii=False, allow_nan=False))
