"""A reason for each row that is off: what was solved again first, then what the shelf and the formula tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from reaccord.answer.judge import Judgement, Residual
from reaccord.answer.why.reason import POINTS, Reason
from reaccord.answer.why.shelf import Shelf
from reaccord.answer.why.surplus import comes_with
from reaccord.domain.study import Study

RELATIVE = 0.2
"""Of its target: a row short by so much gets a reason however small it is."""
ASKED = 3
"""Constituents that a name may mean that are named beside it."""


def worth_a_reason(residual: Residual) -> bool:
    """Whether a row is off by 0.05 points, or short by a fifth of its own target."""
    relative = abs(residual.residual) >= RELATIVE * max(residual.row.share, 1e-6)
    return abs(residual.residual) >= POINTS or (relative and residual.residual < 0)


def reasons(
    study: Study, judged: Judgement, *, optimised: bool = True, solved: Mapping[str, Reason] | None = None
) -> dict[str, Reason]:
    """Return a reason by row label for every row that is worth one and has one.

    Of a formula that nothing optimised only the shelf and the formula can be the reason, not a trade-off. `solved` are
    the reasons, by row label, that were solved for.
    """
    found, shelf = {}, Shelf(study, judged)
    for residual in filter(worth_a_reason, judged.residuals):
        label = residual.row.label
        said = (solved or {}).get(label)
        if said is None and residual.residual > 0:
            said = comes_with(study, judged, residual, optimised=optimised)
        elif said is None:
            said = shelf.shortfall(residual, optimised=optimised)
        asked = _asked(study, residual)
        if asked:
            said = replace(said, sentence=f"{said.sentence}; {asked}") if said else Reason(label, "name_asked", asked)
        if said:
            found[label] = said
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
