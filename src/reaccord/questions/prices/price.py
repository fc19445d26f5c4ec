"""What one limit costs: the formula without it, and the smallest change of it that gains a tenth of that."""

from __future__ import annotations

import math
from dataclasses import dataclass

from reaccord.answer.fitted import Fit
from reaccord.answer.judge import judge
from reaccord.contract import Answer
from reaccord.questions.prices.least_move import least_move
from reaccord.questions.prices.movable import Movable
from reaccord.questions.prices.nearby import ROOT, Found, Nearby
from reaccord.study.changed import with_keys

PART = 0.1
"""Of what a limit costs: the change that is told gains so much, and what shows."""


@dataclass(frozen=True)
class Step:
    """A limit moved to `limit`, and what that gives."""

    limit: float
    found: Found


@dataclass(frozen=True)
class LimitPrice:
    """What a limit costs: `gain` is by how much the deviation falls without it.

    `without` is the formula without the limit, or with it at `end` where it can only be moved; `step` None where none
    was found.
    """

    kind: str
    subject: tuple[str, ...]
    label: str
    unit: str
    now: float
    end: float | None
    without: Found
    step: Step | None
    gain: float


def price_of(nearby: Nearby, movable: Movable, known: Answer | None) -> LimitPrice | None:
    """Return what a limit costs, None where nothing that shows; `known` is an answer without it, if there is one."""
    if known is not None and not nearby.gains(known.value):
        return None
    solved = nearby.solved(lambda: movable.at(None), known=known)
    if solved is None or not (movable.rounds or nearby.gains(solved.answer.value)):
        return None
    free = nearby.finished(solved)
    if free is None or not nearby.shows(free, nearby.least if movable.rounds else 0.0):
        return None
    step = None if movable.rounds else _step(nearby, movable, free)
    without = Found.of(free)
    own = (movable.kind, movable.subject, movable.label, movable.unit, movable.now, movable.end)
    return LimitPrice(*own, without, step, nearby.shown - without.value)


def shorter(nearby: Nearby, lines: int) -> Step | None:
    """Return a formula of at most so many lines: the closest, or what a search comes to at once."""
    change = lambda: with_keys(nearby.found.study, "limits", lines=lines)  # noqa: E731
    fitted = nearby.finished(nearby.solved(change, nodes=ROOT))
    return None if fitted is None else Step(lines, Found.of(fitted))


def _step(nearby: Nearby, movable: Movable, free: Fit) -> Step | None:
    far, gain = _end(nearby.found, movable, free), nearby.value - free.judged_before.closeness.value
    wanted = max(PART * gain, nearby.least * nearby.value)
    if not math.isfinite(far) or far == movable.now or nearby.budget.over():
        return None
    limit, formula = least_move(nearby, movable, far, gain, wanted)
    fitted = nearby.finished(nearby.solved(lambda: movable.at(limit), formula or free.unrounded))
    return None if fitted is None or not nearby.shows(fitted) else Step(limit, Found.of(fitted))


def _end(found: Fit, movable: Movable, free: Fit) -> float:
    """Return as far as a limit can matter: where the formula without it stands, as the study with it judges."""
    if movable.end is not None:
        return movable.end
    states = judge(found.study, free.unrounded).limits
    return next((state.value for state in states if state.key == movable.key), movable.now)
