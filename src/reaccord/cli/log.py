"""One line of JSON a run, for those who keep a log."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import Any

from reaccord import __version__
from reaccord.cli.result import Result
from reaccord.findings import ReaccordError
from reaccord.report.files import append_line

OF_THE_DEVIATION = ("measure", "scale", "value", "bound", "gap", "misplaced_share")


def log_result(log: Path, subject: Path, result: Result) -> None:
    """Note what came out: when, of which inputs, how close, at what cost."""
    data = result.data
    deviation, totals = data.get("deviation") or {}, data.get("totals") or {}
    line = {
        "title": data.get("title"),
        "date": data.get("date"),
        **{name: deviation[name] for name in OF_THE_DEVIATION if name in deviation},
        **{name: totals[name] for name in ("total_g", "cost_per_kg") if name in totals},
        **({"lines": len(data["formula"])} if "formula" in data else {}),
        **({"counts": data["counts"]} if "counts" in data else {}),
        "inputs": data.get("inputs", []),
    }
    _append(log, result.command, subject, result.status, result.exit_code, line)


def log_failure(log: Path, command: str, subject: Path, error: ReaccordError) -> None:
    """Note that nothing came out, and why."""
    _append(log, command, subject, error.status, error.exit_code, {"errors": [str(f) for f in error.errors]})


def _append(log: Path, command: str, subject: Path, status: str, exit_code: int, more: dict[str, Any]) -> None:
    line = {
        "time": datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
        "version": __version__,
        "command": command,
        "study": str(subject),
        "status": status,
        "exit_code": exit_code,
        **more,
    }
    append_line(log, json.dumps(line, ensure_ascii=False, allow_nan=False))
