"""Which limit holds which row: the row is nearer its target in a formula solved without that limit."""

from __future__ import annotations

from collections.abc import Mapping

from reaccord.answer.judge import Judgement, judge
from reaccord.answer.why.holding import LetGo
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.study import Study

PART = 0.2
"""A row nearer by less than this part of how far it is off is not held by that limit."""
POINTS = 0.0005
"""Nor by less than 0.05 points."""


def held_rows(study: Study, judged: Judgement, solved: Mapping[LimitKey, LetGo]) -> Mapping[str, str]:
    """Return a sentence by row label where letting go of a limit brings that row nearer: the one that does most."""
    best: dict[str, tuple[float, str]] = {}
    labels = {state.key: state.label for state in judged.limits}
    for key, found in solved.items():
        if not found.holds or found.amounts is None:
            continue
        pours = {s.key: float(x) for s, x in zip(study.stocks, found.amounts, strict=False) if x > 0}
        for now, then in zip(judged.residuals, judge(study, pours).residuals, strict=True):
            gain = abs(now.residual) - abs(then.residual)
            if gain >= max(POINTS, PART * abs(now.residual), best.get(now.row.label, (0.0, ""))[0]):
                best[now.row.label] = gain, _sentence(key, labels[key], gain, now.residual < 0)
    return {label: sentence for label, (_, sentence) in best.items()}


def _sentence(key: LimitKey, label: str, gain: float, short: bool) -> str:
    if key.kind == "on hand" and short:
        return f"{key.subject[0]} is used up: with more of it {gain * 100:.2f} points nearer"
    return f"held by the limit {label}: without it {gain * 100:.2f} points nearer"
