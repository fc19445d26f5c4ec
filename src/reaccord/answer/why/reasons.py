"""A first reason for each residual: what the shelf holds, what comes along, what holds it back."""

from __future__ import annotations

from collections.abc import Mapping

from reaccord.answer.judge import Judgement, PouredLine, Residual
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import Stock
from reaccord.domain.study import Study

WORTH_A_REASON = 0.0005
"""A residual of at least 0.05 points gets one, and any that is a fifth of its own target."""

FILLS_IN = 1.3
"""A surplus up to this much over the common growth of all shares is no more than that growth."""

MUCH_PURER = 5.0
"""A source that must not be poured is worth a word if it is so much purer than the best that may."""
MOSTLY = 0.8
"""A source that brings more than this part of something is named alone."""


ASKED = 3
"""Constituents that a name may mean that are named beside it."""


def reasons(
    study: Study, judged: Judgement, *, optimised: bool = True, held: Mapping[str, str] | None = None
) -> Mapping[str, str]:
    """Return a sentence by row label for every residual that is worth one.

    Of a formula that nothing optimised only the shelf can be the reason, not a limit or a trade-off. `held` says, by
    row label, which limit was solved to hold a row back.
    """
    found = {}
    for residual in judged.residuals:
        relative = abs(residual.residual) >= 0.2 * max(residual.row.share, 1e-6)
        if abs(residual.residual) >= WORTH_A_REASON or (relative and residual.residual < 0):
            first = (held or {}).get(residual.row.label) or _reason(study, judged, residual, optimised)
            why = (first, _asked(study, residual))
            found[residual.row.label] = "; ".join(reason for reason in why if reason)
    return found


def _asked(study: Study, residual: Residual) -> str:
    """Ask again where a name may mean a known constituent: beside its own row, and beside that of who may be meant."""
    members = residual.row.members if residual.kind in {"named", "foreign"} else frozenset[str]()
    meant = sorted({other for name in members for other in study.asked.get(name, ())})
    if meant:
        return f"read as a constituent of its own; did you mean {' or '.join(meant[:ASKED])}?"
    others = sorted(name for name, known in study.asked.items() if not members.isdisjoint(known))
    others = [name for name in others if any(name in stock.content.typical for stock in study.stocks)]
    return f'"{others[0]}" on the shelf may mean it' if others and residual.residual < 0 else ""


def _reason(study: Study, judged: Judgement, residual: Residual, optimised: bool) -> str:
    if residual.kind == "undeclared":
        return f"comes with {_listed(residual)}" if residual.sources else ""
    if residual.residual > 0:
        return _surplus(study, judged, residual, optimised)
    return _shortfall(study, judged, residual, optimised)


def _listed(residual: Residual, wanted: str = "") -> str:
    """Name the materials that bring most of it, two at most, and what the first is there for."""
    (first, part), *others = residual.sources
    if part > MOSTLY or not others:
        return f"{first}, wanted for {wanted}" if wanted else first
    return f"{first} (wanted for {wanted}) and {others[0][0]}" if wanted else f"{first} and {others[0][0]}"


def _surplus(study: Study, judged: Judgement, residual: Residual, optimised: bool) -> str:
    """It comes with a bottle; say what that bottle is there for, if it is known why it was chosen."""
    main = residual.sources[0][0]
    lines = [line for line in judged.lines if line.stock.key.material == main]
    if any(line.grams <= line.stock.minimum_g * (1 + 1e-9) for line in lines):
        return f"{main} is at its smallest weighable mass"
    small = residual.residual <= FILLS_IN * residual.row.share * _missing(judged)
    if residual.kind == "named" and small:
        return "" if _ends(judged, lines) else "fills in, in proportion, for what is missing"
    if (
        optimised
        and residual.kind == "named"
        and any(_purity(residual.row.members, line.stock) >= 0.5 for line in lines)
    ):
        return ""  # poured for its own sake: why so much of it, only solving again tells
    return f"comes with {_listed(residual, _wanted_for(judged, residual, main) if optimised else '')}"


def _ends(judged: Judgement, lines: list[PouredLine]) -> bool:
    """Whether one of these bottles is poured to its end, and cannot grow with the others."""
    ends = {state.key for state in judged.limits if state.binding}
    return any(LimitKey("on hand", line.stock.key.subject) in ends for line in lines)


def _missing(judged: Judgement) -> float:
    """Return how much every ratio-keeping share grows: what is missing over what is there."""
    short = sum(-r.residual for r in judged.residuals if r.kind == "named" and r.residual < 0)
    return short / (1 - short) if short < 1 else 0.0


def _wanted_for(judged: Judgement, residual: Residual, material: str) -> str:
    """Return the named row that `material` matters most to: of those it mainly brings, the one it brings most of."""
    brought = [
        (min(other.achieved, max(other.row.share, other.row.high)) * other.sources[0][1], other.row.label)
        for other in judged.residuals
        if other.kind == "named" and other.sources and other.sources[0][0] == material
    ]
    share, label = max(brought, default=(0.0, ""))
    return "" if label == residual.row.label or share < WORTH_A_REASON else label


def _shortfall(study: Study, judged: Judgement, residual: Residual, optimised: bool) -> str:
    """Try the plainest reason first: nothing holds it, too little to weigh, used up, limited, baggage."""
    members = residual.row.members
    holding = [s for s in study.stocks if _held(members, s) > 0]
    if not holding:
        return _no_source(study, members)
    tests = (
        _unweighable(judged, residual, holding),
        "" if optimised else _used_up(judged, members, holding),
        _better_aside(study, members, holding),
        _baggage(study, members, holding),
    )
    said = next((reason for reason in tests if reason), "")
    if said or not optimised:
        return said or f"more of {_best(members, holding).key.material} would mend it"
    return "" if any(state.binding for state in judged.limits) else "a closer fit elsewhere outweighs it"


def _no_source(study: Study, members: frozenset[str]) -> str:
    aside = [item for item in study.set_aside if item.stock.recipe is None and _held(members, item.stock) > 0]
    if not aside:
        return _in_a_sum(study, members) or "no bottle holds it"
    best = max(aside, key=lambda item: (_purity(members, item.stock), item.stock.key))
    only = len({item.stock.key.material for item in aside}) == 1
    name = best.stock.key.material
    return f"only {name} holds it: {best.reason}" if only else f"best source {name}: {best.reason}"


def _in_a_sum(study: Study, members: frozenset[str]) -> str:
    """Name a bottle set aside that states a sum these belong to, and no more."""
    known = study.constituents
    sums = {name for name, one in known.items() if not members.isdisjoint(one.members)}
    for item in study.set_aside:
        if not sums.isdisjoint(item.stock.content.typical):
            return f"{item.stock.key.material} may hold it, but is set aside: {item.reason}"
    return ""


def _unweighable(judged: Judgement, residual: Residual, holding: list[Stock]) -> str:
    least = min(s.minimum_g * _held(residual.row.members, s) for s in holding)
    wanted = residual.row.share * judged.totals.named_g
    return "not weighable at this batch size" if residual.achieved == 0 and least > 2 * wanted else ""


def _purity(members: frozenset[str], stock: Stock) -> float:
    return _held(members, stock) / stock.active if stock.active > 0 else 0.0


def _best(members: frozenset[str], holding: list[Stock]) -> Stock:
    return max(holding, key=lambda stock: (_purity(members, stock), stock.key))


def _baggage(study: Study, members: frozenset[str], holding: list[Stock]) -> str:
    best = _best(members, holding)
    wanted = {name for row in study.target.rows if row.kind == "named" for name in row.members}
    unwanted = best.active - _held(frozenset(wanted), best)
    times = unwanted / _held(members, best)
    if times < 1:
        return ""
    aside = [item.stock for item in study.set_aside if _held(members, item.stock) > 0]
    materials = {stock.key.material for stock in (*holding, *aside)}
    who = f"only {best.key.material} brings it" if len(materials) == 1 else f"best source {best.key.material}"
    return f"{who}, with {times:.{0 if times >= 10 else 1}f} times its weight of unwanted things"


def _better_aside(study: Study, members: frozenset[str], holding: list[Stock]) -> str:
    """Name a much purer source that must not be poured."""
    best = _purity(members, _best(members, holding))
    for item in study.set_aside:
        if item.stock.recipe is None and _purity(members, item.stock) > max(MUCH_PURER * best, 0.1):
            return f"{item.stock.key.material} would bring it, but is set aside: {item.reason}"
    return ""


def _held(members: frozenset[str], stock: Stock) -> float:
    typical = stock.content.typical
    return 0.0 if members.isdisjoint(typical) else sum(typical.get(name, 0.0) for name in sorted(members))


def _used_up(judged: Judgement, members: frozenset[str], holding: list[Stock]) -> str:
    """Name a source whose bottle is poured to the end, if no bottle that is half as pure is left."""
    ends = {state.key for state in judged.limits if state.binding}
    bottles = [stock for stock in holding if stock.recipe is None]
    empty = [stock for stock in bottles if LimitKey("on hand", stock.key.subject) in ends]
    if not empty:
        return ""
    best = _best(members, empty)
    left = max((_purity(members, stock) for stock in bottles if stock not in empty), default=0.0)
    return f"{best.key.material} is used up" if left < 0.5 * _purity(members, best) else ""
