"""With which bottle a surplus comes, and what else that bottle brings."""

from __future__ import annotations

from reaccord.answer.judge import Judgement, Residual
from reaccord.answer.why.reason import POINTS, Reason
from reaccord.answer.why.shelf import purity
from reaccord.domain.study import Study

MOSTLY = 0.8
"""A source that brings more than this part of something is named alone."""
ITSELF = 0.5
"""Of a bottle: what is so much of it is what it is poured for."""


def comes_with(study: Study, judged: Judgement, residual: Residual, *, optimised: bool) -> Reason | None:
    """Say with which bottle a surplus comes; None where that bottle is poured for its sake."""
    if not residual.sources:
        return None
    main = residual.sources[0][0]
    lines = [line for line in judged.lines if line.stock.key.material == main]
    named = residual.kind == "named"
    if optimised and named and any(purity(residual.row.members, line.stock) >= ITSELF for line in lines):
        return None
    also = _missed(study, judged, residual, main) if optimised and residual.kind != "undeclared" else ""
    return Reason(residual.row.label, "comes_with", f"comes with {_listed(residual, also)}")


def _listed(residual: Residual, also: str) -> str:
    """Name the materials that bring most of it, two at most, and what would be missed most without the first."""
    (first, part), *others = residual.sources
    if part > MOSTLY or not others:
        return f"{first}, which also brings {also}" if also else first
    return f"{first} (which also brings {also}) and {others[0][0]}" if also else f"{first} and {others[0][0]}"


def _missed(study: Study, judged: Judgement, residual: Residual, material: str) -> str:
    """Return the named row that would be farthest off, as the measure counts, with nothing from this material."""
    squares = study.settings.fit.measure == "squares"
    lost = []
    for other in judged.residuals:
        part = dict(other.sources).get(material, 0.0)
        if other.kind == "named" and part * other.achieved >= POINTS:
            then = abs(other.row.factor * other.row.distance(other.achieved * (1 - part)))
            now = abs(other.scaled)
            lost.append((then**2 - now**2 if squares else then - now, other.row.label))
    worth, label = max(lost, default=(0.0, ""))
    return label if worth > 0 and label != residual.row.label else ""
