"""Rows that fill in for what no bottle holds: they are nearer once that stands on the shelf."""

from __future__ import annotations

from collections.abc import Sequence

from reaccord.answer.judge import Judgement, Residual
from reaccord.answer.why.again import Again
from reaccord.answer.why.offer import beside, pure, uncounted
from reaccord.answer.why.reason import Reason, nearer, points, twin
from reaccord.answer.why.shelf import held

COMMON = 1.3
"""A surplus up to this much over the common growth of all shares is no more than that growth."""


def fills_in(again: Again, before: Judgement, rows: Sequence[Residual]) -> dict[str, Reason]:
    """Return a reason by row label where a surplus is the common growth of all that can grow.

    A bottle poured to its end cannot grow with the others.
    `before` judges the closest formula before rounding, `rows` are its residuals that are asked about. Solved with
    every constituent that no bottle holds on the shelf, pure, for nothing and not counted as lines.
    """
    study = again.study
    short = [r for r in before.residuals if r.kind == "named" and r.residual < 0]
    missing = [r for r in short if not any(held(r.row.members, stock) for stock in study.stocks)]
    part = sum(-r.residual for r in missing)
    growth = COMMON * part / (1 - part) if part < 1 else 0.0
    ends = {state.key.subject for state in before.limits if state.binding and state.key.kind == "on hand"}
    ended = {line.stock.key.material for line in before.lines if line.stock.key.subject in ends}
    grown = [
        r for r in rows if r.kind == "named" and 0 < r.residual <= growth * r.row.share and r.sources[0][0] not in ended
    ]
    if not grown:
        return {}
    wider, programme = beside(study, again.programme, [pure(min(r.row.members)) for r in missing])
    then = again.closest(wider, uncounted(wider, programme))
    if then is None:
        return {}
    gains = {r.row.label: nearer(r, twin(then, r)) for r in grown}
    words = "fills in, in proportion, for what no bottle holds: with that"
    return {label: Reason(label, "fills_in", f"{words} {points(gain)}", gain) for label, gain in gains.items() if gain}
