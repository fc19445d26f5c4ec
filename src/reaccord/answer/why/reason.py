"""Why a row is off: the record, its codes, and when a row is nearer by enough to say so."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from reaccord.answer.judge import Judgement, Residual

Code = Literal[
    "no_source",
    "set_aside",
    "baggage",
    "limit",
    "used_up",
    "below_balance",
    "traded",
    "fills_in",
    "shortened",
    "comes_with",
    "more_would",
    "name_asked",
]
PART = 0.2
"""A row that comes nearer by less than this part of how far it is off does not come nearer."""
SMALL = 0.05
"""Nor, where nothing else is the reason, by less than this part."""
POINTS = 0.0005
"""Nor one by less than 0.05 points."""


@dataclass(frozen=True)
class Reason:
    """Why a row (`constituent`, its label) is off.

    `gain` is how much nearer to its target (fraction of the basis) the row comes in the formula that was solved with
    what the sentence names moved; None where nothing was solved: then the sentence is what the shelf or the formula is.
    """

    constituent: str
    code: Code
    sentence: str
    gain: float | None = None


def nearer(now: Residual, then: Residual, part: float = PART) -> float:
    """Return how much nearer a row is than it was, fraction; 0 where that is not worth a word."""
    gain = abs(now.residual) - abs(then.residual)
    return gain if gain >= max(POINTS, part * abs(now.residual)) else 0.0


def twin(judged: Judgement, residual: Residual) -> Residual:
    """Return the same row of another formula."""
    return next(r for r in judged.residuals if r.row.label == residual.row.label)


def points(gain: float) -> str:
    """Say how much nearer a row comes."""
    return f"{gain * 100:.2f} points nearer"


def sentence(reasons: Mapping[str, Reason], label: str) -> str:
    """Return why a row is off, by its label; nothing where nothing is known."""
    return reasons[label].sentence if label in reasons else ""
