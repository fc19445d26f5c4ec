"""Which limit holds which row: the row is nearer its target in the closest formula without that limit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from reaccord.answer.judge import Judgement, Residual
from reaccord.answer.why.again import judged_of
from reaccord.answer.why.holding import LetGo
from reaccord.answer.why.reason import PART, Reason, nearer, points
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.study import Study

MOST = 0.5
"""Of the largest move of all rows: what is no small one."""


class Freed(NamedTuple):
    """A limit let go of: what the rows are then, and whether no formula is closer."""

    key: LimitKey
    residuals: tuple[Residual, ...]
    proven: bool


def freed(study: Study, solved: Mapping[LimitKey, LetGo]) -> list[Freed]:
    """Return the limits that hold a formula back, judged without each."""
    return [
        Freed(key, judged_of(study, found.amounts).residuals, found.proven)
        for key, found in solved.items()
        if found.holds and found.amounts is not None
    ]


def held_rows(before: Judgement, without: Sequence[Freed], part: float = PART) -> dict[str, Reason]:
    """Return a reason by row label where letting go of a limit brings that row nearer: the limit that does most.

    `before` judges the closest formula before rounding; `part` of how far a row is off it must come nearer. Where it
    is not proven that nothing is closer without the limit, small moves may go another way in the closest: of these only
    the rows that move most are told of.
    """
    best: dict[str, Reason] = {}
    labels = {state.key: state.label for state in before.limits}
    for key, then, proven in without:
        gains = {now.row.label: nearer(now, other, part) for now, other in zip(before.residuals, then, strict=True)}
        least = 0.0 if proven else MOST * max(gains.values())
        for label, gain in gains.items():
            known = best.get(label)
            if gain >= least and gain > (known.gain or 0.0 if known else 0.0):
                best[label] = _reason(key, labels[key], label, (gain, proven))
    return best


def _reason(key: LimitKey, label: str, row: str, nearer_by: tuple[float, bool]) -> Reason:
    """Say how much nearer a row is, if no formula without the limit is closer, proven; else that it is."""
    gain, proven = nearer_by
    if key.kind == "on hand":
        much = f"with more of it {points(gain)}" if proven else "nearer with more of it"
        return Reason(row, "used_up", f"{key.subject[0]} is used up: {much}", gain)
    much = f"without it {points(gain)}" if proven else "nearer without it"
    return Reason(row, "limit", f"held by the limit {label}: {much}", gain)
