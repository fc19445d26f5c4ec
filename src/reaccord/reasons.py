"""A first reason for each residual: what the shelf holds, what comes along, what holds it back."""

from __future__ import annotations

from collections.abc import Mapping

from reaccord.domain.stock import Stock
from reaccord.domain.study import Study
from reaccord.judge import Judgement, Residual

WORTH_A_REASON = 0.0005
"""A residual of at least 0.05 points gets one, and any that is a fifth of its own target."""


def reasons(study: Study, judged: Judgement) -> Mapping[str, str]:
    """Return a sentence by row label for every residual that is worth one."""
    found = {}
    for residual in judged.residuals:
        relative = abs(residual.residual) >= 0.2 * max(residual.row.share, 1e-6)
        if abs(residual.residual) >= WORTH_A_REASON or (relative and residual.residual < 0):
            found[residual.row.label] = _reason(study, judged, residual)
    return found


def _reason(study: Study, judged: Judgement, residual: Residual) -> str:
    if residual.kind == "undeclared":
        return f"comes with {_listed(residual)}" if residual.sources else ""
    return _surplus(judged, residual) if residual.residual > 0 else _shortfall(study, judged, residual)


def _listed(residual: Residual) -> str:
    """Name the materials that bring most of it, two at most."""
    first, *others = residual.sources
    if first[1] > 0.8 or not others:
        return first[0]
    return f"{first[0]} and {others[0][0]}"


def _surplus(judged: Judgement, residual: Residual) -> str:
    """It comes with a bottle; say what that bottle is there for."""
    main = residual.sources[0][0]
    for line in judged.lines:
        if line.stock.key.material == main and line.grams <= line.stock.minimum_g * (1 + 1e-9):
            return f"{main} is at its smallest weighable mass"
    brought = [
        other.row.label
        for other in judged.residuals
        if other.kind == "named"
        and other is not residual
        and other.sources
        and other.sources[0][0] == main
        and other.sources[0][1] > 0.5
    ]
    wanted = f", wanted for {brought[0]}" if brought and residual.row.label not in brought[:1] else ""
    return f"comes with {_listed(residual)}{wanted}"


def _shortfall(study: Study, judged: Judgement, residual: Residual) -> str:
    row = residual.row
    holding = [s for s in study.stocks if _held(row.members, s) > 0]
    if not holding:
        aside = [i for i in study.set_aside if _held(row.members, i.stock) > 0 and i.stock.recipe is None]
        if aside:
            return f"only {aside[0].stock.key.material} holds it: {aside[0].reason}"
        return "no bottle holds it"
    least = min(s.minimum_g * _held(row.members, s) for s in holding)
    if least > 2 * row.share * judged.totals.named_g and residual.achieved == 0:
        return "not weighable at this batch size"
    emptied = _emptied(judged, row.members)
    if emptied:
        return f"{emptied} is used up"
    materials = sorted({s.key.material for s in holding})
    held_back = _held_back(judged, row.members)
    if held_back:
        return f"held by {held_back}"
    best = max(holding, key=lambda s: (_held(row.members, s) / s.active if s.active else 0.0, s.key))
    purity = _held(row.members, best) / best.active if best.active else 0.0
    if purity < 0.5:
        baggage = f"{(1 - purity) / purity:.2g} times its weight of other things"
        who = (
            f"only {materials[0]} brings it"
            if len(materials) == 1
            else f"{best.key.material} is its best source"
        )
        return f"{who}, with {baggage}"
    binding = [s.label for s in judged.limits if s.binding]
    if binding:
        return f"held by {', '.join(binding[:2])}"
    return "a closer fit elsewhere outweighs it"


def _held(members: frozenset[str], stock: Stock) -> float:
    return sum(stock.content.typical.get(name, 0.0) for name in sorted(members))


def _emptied(judged: Judgement, members: frozenset[str]) -> str:
    for state in judged.limits:
        if state.binding and state.label.endswith(": on hand"):
            for line in judged.lines:
                if state.label.startswith(line.stock.label) and _held(members, line.stock) > 0:
                    return line.stock.key.material
    return ""


def _held_back(judged: Judgement, members: frozenset[str]) -> str:
    """Name the binding rule that restricts one of these constituents itself."""
    for state in judged.limits:
        if state.binding and any(
            state.label.endswith(f": {name}") or state.label == name for name in members
        ):
            return state.label
    return ""
