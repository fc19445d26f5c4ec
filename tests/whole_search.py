"""The exact search by itself, also of programmes with few columns to decide, which `exact.solve` settles without it."""

from __future__ import annotations

from reaccord.contract import Answer, Budget, Programme
from reaccord.solvers.exact.answer import searched
from reaccord.solvers.exact.presolve import presolve
from reaccord.solvers.exact.scaled import cleaned, scale


def whole_search(programme: Programme, budget: Budget) -> Answer:
    """Return the answer of `Search`, begun from `budget.warm` if that is a record."""
    programme = cleaned(programme)
    return searched(programme, presolve(scale(programme)), budget.running())
