"""The way in: a programme and a budget, an answer out."""

from __future__ import annotations

import math
from dataclasses import replace

from reaccord.contract import Answer, Budget, FloatArray, Programme, Status
from reaccord.solvers.exact.few import Settled, settle
from reaccord.solvers.exact.presolve import presolve
from reaccord.solvers.exact.record import Record
from reaccord.solvers.exact.resumed import Resumed
from reaccord.solvers.exact.scaled import Scaled, cleaned, scale
from reaccord.solvers.exact.search import Search

SOLVER, LIBRARIES = "reaccord exact", ("daqp",)


def solve(programme: Programme, budget: Budget) -> Answer:
    """Return the closest formula by squares and what is proven about it.

    Parameters
    ----------
    programme
        Measure `squares`.
    budget
        Gap to stop at, seconds, calls from outside.

    Returns
    -------
    Answer
        `proven` within the gap, `feasible` with what was reached, `infeasible` only if proven so, `no_answer`
        when time ended with nothing. The same programme gives the same amounts unless time ends the search. Begun
        from another answer (`budget.warm`) it gives the same verdict and a value within the gap, by other amounts
        perhaps; what it proves it proves itself, in closed form.

    Raises
    ------
    ValueError
        For another measure.
    """
    if programme.measure != "squares":
        msg = f"the exact search minimises squares, not {programme.measure}"
        raise ValueError(msg)
    budget = budget.running()
    if not programme.columns:
        return Answer("infeasible", None, math.inf, math.inf, SOLVER, LIBRARIES, budget.elapsed(), 0)
    programme = cleaned(programme)
    scaled = presolve(scale(programme))
    quick = settle(programme, scaled, budget)
    return searched(programme, scaled, budget) if quick is None else _said(quick, budget)


def searched(programme: Programme, scaled: Scaled, budget: Budget) -> Answer:
    """Return what the search finds and proves for a programme, `cleaned`, and the same as `presolve` leaves it."""
    before = budget.warm
    search = (
        Resumed(programme, scaled, budget, before) if isinstance(before, Record) else Search(programme, scaled, budget)
    )
    exhausted = search.run()
    return _answer(search, exhausted)


def first_formula(programme: Programme, budget: Budget) -> FloatArray | None:
    """Return the amounts (n,) that the root of the search comes to, for another measure to begin from.

    Good, not proven; the same every time, unless `budget` ends it. None if there is none so soon.
    """
    programme = cleaned(replace(programme, measure="squares"))
    search = Search(programme, presolve(scale(programme)), replace(budget, progress=None).running())
    search.root()
    return None if search.best is None else search.best.amounts


def _said(settled: Settled, budget: Budget) -> Answer:
    """Return the answer of few columns, told as a search tells it."""
    best = settled.formula
    value = math.inf if best is None else best.value
    if budget.found is not None and best is not None:
        budget.found(best.amounts)
    if budget.progress is not None:
        budget.progress(value, settled.bound, settled.nodes)
    return Answer(
        "infeasible" if best is None else "proven",
        None if best is None else best.amounts,
        value,
        settled.bound,
        SOLVER,
        LIBRARIES,
        budget.elapsed(),
        settled.nodes,
    )


def _answer(search: Search, exhausted: bool) -> Answer:
    best = search.best
    status: Status = "no_answer"
    if best is not None:
        status = "proven" if search.proven() else "feasible"
    elif exhausted and math.isinf(search.closed):
        status = "infeasible"
    return Answer(
        status=status,
        amounts=None if best is None else best.amounts,
        value=search.value,
        bound=search.bound,
        solver=SOLVER,
        libraries=LIBRARIES,
        seconds=search.budget.elapsed(),
        nodes=search.nodes,
        warm=search.left_behind(),
    )
