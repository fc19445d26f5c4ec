"""One study of many, solved wherever it is sent; whatever happens to it becomes a line of results."""

from __future__ import annotations

import json
import math
import time
import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reaccord import SCHEMA, __version__
from reaccord.contract import Budget
from reaccord.findings import Finding, InvalidInput, ReaccordError
from reaccord.questions.many.parcel import Parcel

MOMENT = 0.25
"""Seconds after which a message is answered: who asks need not wait for all of it."""
Line = dict[str, Any]
"""One result as plain data: a line of the results file (README, "Many studies")."""
_written = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode


@dataclass(frozen=True)
class Asked:
    """What every study is asked for: the relative gap to stop at and the seconds for each."""

    gap: float = 1e-3
    seconds: float = math.inf

    @property
    def data(self) -> dict[str, float | None]:
        """As plain data; no limit of time is null."""
        return {"gap": self.gap, "seconds": self.seconds if math.isfinite(self.seconds) else None}


def solve_parcels(message: Sequence[Parcel], asked: Asked) -> tuple[list[str], float]:
    """Return the lines of the first studies of a message, as many as take a moment, and the seconds they took."""
    started, lines, seconds = time.perf_counter(), list[str](), 0.0
    for parcel in message:
        lines.append(solve_parcel(parcel, asked))
        seconds = time.perf_counter() - started
        if seconds > MOMENT:
            break
    return lines, seconds


def solve_parcel(parcel: Parcel, asked: Asked) -> str:
    """Return the line of one study as JSON, written here once for all; every fault is a line too."""
    try:
        return _written(_solved(parcel, asked))  # what cannot be written is a fault of this study, not of the run
    except ReaccordError as error:
        return failed(parcel, asked, error)
    except Exception as fault:
        ours = ReaccordError(f"A fault of ours: {type(fault).__name__}: {fault}")
        return failed(parcel, asked, ours, traceback=traceback.format_exc())


def failed(parcel: Parcel, asked: Asked, error: ReaccordError, **more: str) -> str:
    """Return the line of a study that has no formula, as JSON."""
    said = {"errors": _dicts(error.errors), "warnings": _dicts(error.warnings)}
    return _written(_line(parcel, asked, error.status, error.exit_code) | said | more)


def _solved(parcel: Parcel, asked: Asked) -> Line:
    from reaccord.answer.fit import fit
    from reaccord.answer.formula import formula_rows
    from reaccord.questions.many.shelves import shelves

    study, stated = shelves().opened(parcel)
    try:
        found = fit(study, Budget(asked.gap, asked.seconds), stated)
    except InvalidInput:
        raise
    except ReaccordError as error:
        error.warnings = study.warnings
        raise
    closeness, totals = found.judged.closeness, found.judged.totals
    return _line(parcel, asked, found.answer.status, 0 if found.answer.status == "proven" else 5) | {
        "title": study.title,
        "measure": study.settings.fit.measure,
        "value": closeness.value,
        "before_rounding": found.judged_before.closeness.value,
        "bound": found.bound,
        "gap": found.gap,
        "misplaced_share": closeness.misplaced_share,
        "cost_per_kg": totals.cost_per_kg,
        "formula": formula_rows(found.judged),
        "search_seconds": found.answer.seconds,
        "warnings": _dicts(study.warnings),
    }


def _dicts(findings: tuple[Finding, ...]) -> list[dict[str, str | int | None]]:
    return [finding.as_dict() for finding in findings]


def _line(parcel: Parcel, asked: Asked, status: str, exit_code: int) -> Line:
    return {
        "schema": SCHEMA,
        "study": parcel.name,
        "sample": parcel.sample,
        "status": status,
        "exit_code": exit_code,
        "title": None,
        "date": parcel.date.isoformat() if parcel.date else None,
        "measure": None,
        "value": None,
        "before_rounding": None,
        "bound": None,
        "gap": None,
        "misplaced_share": None,
        "cost_per_kg": None,
        "formula": [],
        "search_seconds": None,
        "inputs": parcel.inputs,
        "settings": asked.data,
        "version": __version__,
        "errors": [],
        "warnings": [],
    }
