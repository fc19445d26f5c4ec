"""The reasons of an optimum: each solved again, the surest first, as far as the time goes."""

from __future__ import annotations

from collections.abc import Mapping

from reaccord.answer.judge import Judgement
from reaccord.answer.why.again import Again
from reaccord.answer.why.allowed import if_allowed
from reaccord.answer.why.baggage import baggage
from reaccord.answer.why.filled import fills_in
from reaccord.answer.why.held import freed, held_rows
from reaccord.answer.why.holding import KEPT, LetGo
from reaccord.answer.why.reason import SMALL, Reason, nearer, points
from reaccord.answer.why.reasons import reasons, worth_a_reason
from reaccord.answer.why.traded import traded
from reaccord.answer.why.weighable import below_balance
from reaccord.domain.limit_key import LimitKey


def earned(
    again: Again,
    judged: Judgement,
    before: Judgement,
    shorter: Judgement | None,
    solved: Mapping[LimitKey, LetGo],
) -> dict[str, Reason]:
    """Return a reason by row label, for every row of an answer that is worth one and has one.

    `judged` judges the rounded formula, `before` the closest before rounding, `shorter` the one that was rounded in its
    place; `solved` says what letting go of limits does.
    """
    again.keep(KEPT)
    study = again.study
    without = freed(study, solved)
    found = _given_up(before, shorter) | held_rows(before, without)
    off = {r.row.label for r in filter(worth_a_reason, judged.residuals)}
    asked = sorted((r for r in before.residuals if r.row.label in off), key=lambda r: (-abs(r.scaled), r.row.label))
    aside = if_allowed(again, before, [r for r in asked if r.row.label not in found])
    found |= {label: said for label, said in aside.items() if said is not None}
    for ask in (below_balance, fills_in):
        found |= ask(again, before, [r for r in asked if r.row.label not in found])
    told = reasons(study, judged, solved=found)
    idle = {label for label, said in aside.items() if said is None}
    told = {label: said for label, said in told.items() if label not in idle or said.code != "set_aside"}
    rest = [r for r in asked if r.row.label not in told and r.residual]
    told |= baggage(again, before, rest)
    little = held_rows(before, without, SMALL)
    told = {label: little[label] for label in little if label in {r.row.label for r in rest}} | told
    return told | traded(again, before, [r for r in rest if r.row.label not in told])


def _given_up(before: Judgement, shorter: Judgement | None) -> dict[str, Reason]:
    """Return the rows that are off for the sake of fewer lines: nearer in the closest formula."""
    found = {}
    for now, then in zip(shorter.residuals if shorter else (), before.residuals, strict=False):
        gain = nearer(now, then)
        if gain:
            said = f"given up for fewer lines: {points(gain)} in the closest formula"
            found[now.row.label] = Reason(now.row.label, "shortened", said, gain)
    return found
