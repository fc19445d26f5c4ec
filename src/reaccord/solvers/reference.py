"""The whole programme in one readable statement: the second opinion on every other solver.

`statement.py` says the programme in cvxpy, nearly word for word. With switches it goes to SCIP;
without them, and once the pattern of on and off is known, to Clarabel (squares) or HiGHS (the linear
measures). Slower than the other doors and meant to be: nothing clever happens here that could be wrong in the
same way as there.

SCIP ends at `Budget.seconds`, not at `Budget.stop`: cvxpy gives no way in while it runs.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from reaccord.contract import Answer, Budget, FloatArray, Measure, Programme
from reaccord.findings import SolverFault
from reaccord.solvers import linear
from reaccord.solvers.cvxpy_runs import HIGHS, run, run_clarabel, run_scip
from reaccord.solvers.statement import Statement, statement
from reaccord.solvers.switching import (
    Switches,
    hopeless,
    per_batch,
    spread_out,
    switches_of,
    truly_bounded,
    with_pattern,
)
from reaccord.solvers.verdict import Found, verdict

SMALLEST_ROOT = 1e-3
"""Least that factors are divided by where the relaxation has no deviation."""


def solve(programme: Programme, budget: Budget | None = None) -> Answer:
    """Return the smallest deviation of a programme by any measure, and its bound.

    Raises
    ------
    MissingSolver
        Something must be switched and SCIP is not installed.
    SolverFault
        A solver failed, or what it gave does not hold.
    """
    budget = (budget or Budget()).running()
    switches = switches_of(per_batch(programme))
    if budget.stop():
        found = Found("reference", ("cvxpy",))
    elif hopeless(per_batch(programme), switches):  # a row without entries that cannot hold never reaches SCIP
        found = Found("reference", ("cvxpy",), infeasible=not switches.assumed.any())
    elif len(switches.columns):
        found = _switched(programme, switches, budget)
    else:
        found = _continuous(programme, switches, budget)
    return verdict(programme, budget, found)


def _switched(programme: Programme, switches: Switches, budget: Budget) -> Found:
    """Let SCIP choose what is on, then solve the rest again."""
    scaled = per_batch(programme)
    root = _root(scaled, switches)
    power = 2 if scaled.measure == "squares" else 1
    said = _root_of_squares(statement(replace(scaled, factor=scaled.factor / root), switches), scaled.measure)
    model = run_scip(said.problem, budget)
    bound = (max(float(model.getDualbound()), 0.0) * root) ** power
    found = Found("reference, SCIP", ("cvxpy", "pyscipopt"), nodes=int(model.getNTotalNodes()))
    certain = not switches.assumed.any()
    if model.getStatus() == "infeasible":
        return replace(found, infeasible=certain and _confirmed(programme, budget))
    if said.amounts.value is None:
        return replace(found, bound=bound if certain else 0.0)
    fixed, none, kept = with_pattern(scaled, switches, said.used.value > 0.5)
    part, _ = _best(fixed, none)
    # if the pattern holds within SCIP's tolerance only, its own amounts are judged instead
    grams = spread_out(programme, kept, said.amounts.value[kept] if part is None else part)
    certain = truly_bounded(scaled, switches, programme.value(grams))
    return replace(found, amounts=grams, bound=bound if certain else 0.0)


def _root_of_squares(said: Statement, measure: Measure) -> Statement:
    """Return the statement with the length of the deviations to minimise in place of its square.

    The same formula is best. A cone keeps its digits in SCIP; the rotated cone of a square takes the difference
    of two large squares and loses half of them.
    """
    import cvxpy as cp

    if measure != "squares":
        return said
    return replace(said, problem=cp.Problem(cp.Minimize(cp.norm2(said.scaled)), said.problem.constraints))


def _continuous(programme: Programme, switches: Switches, budget: Budget) -> Found:
    """Solve a programme in which nothing is switched."""
    fixed, none, kept = with_pattern(per_batch(programme), switches, ~switches.switched)
    part, bound = _best(fixed, none)
    name, package = ("Clarabel", "clarabel") if fixed.measure == "squares" else ("HiGHS", "scipy")
    found = Found(f"reference, {name}", ("cvxpy", package))
    if part is None:
        return replace(found, infeasible=_confirmed(programme, budget))
    return replace(found, amounts=spread_out(programme, kept, part), bound=bound)


def _best(fixed: Programme, none: Switches) -> tuple[FloatArray | None, float]:
    """Return the best amounts (n,) in batches with nothing to switch, None if there are none, and a bound."""
    if not fixed.columns:
        return None, 0.0
    said = statement(fixed, none)
    if fixed.measure == "squares":
        return _best_squares(fixed, said)
    status = run(said.problem, "SCIPY", scipy_options=dict(HIGHS))
    return (said.amounts.value, float(said.problem.value)) if status else (None, 0.0)


def _best_squares(fixed: Programme, said: Statement) -> tuple[FloatArray | None, float]:
    """Return Clarabel's amounts, and the least that the tangent at them allows: true wherever they are."""
    import cvxpy as cp

    if not run_clarabel(said.problem):
        return None, 0.0
    best: FloatArray = np.maximum(said.amounts.value, 0.0)
    slope = 2 * (fixed.factor * fixed.scaled_residuals(best)) @ fixed.content / fixed.batch_g
    tangent = cp.Problem(cp.Minimize(slope @ said.amounts), said.problem.constraints)
    if not run(tangent, "SCIPY", scipy_options=dict(HIGHS)):
        return best, 0.0
    return best, fixed.value(best) + float(tangent.value) - float(slope @ best)


def _root(scaled: Programme, switches: Switches) -> float:
    """Return what to divide factors by, so that the optimum is around 1: SCIP's tolerances are absolute."""
    rows = tuple(replace(row, used=np.zeros_like(row.used)) for row in scaled.limits)
    loose = replace(scaled, minimum=np.zeros_like(scaled.minimum), limits=rows)
    fixed, none, _ = with_pattern(loose, switches, np.ones_like(switches.switched))
    part, _ = _best(fixed, none)
    if part is None:
        return 1.0
    value = fixed.value(part)
    return max(math.sqrt(value) if scaled.measure == "squares" else value, SMALLEST_ROOT)


def _confirmed(programme: Programme, budget: Budget) -> bool:
    """Tell whether HiGHS finds no formula either: a wrong "impossible" is the worst answer of all.

    Raises
    ------
    SolverFault
        HiGHS has a formula that holds.
    """
    any_formula = replace(programme, factor=np.zeros_like(programme.factor), measure="absolute")
    answer = linear.solve(any_formula, Budget(seconds=budget.left(), stop=budget.stop))
    if answer.amounts is not None:
        raise SolverFault("SCIP or Clarabel finds no formula inside the limits, HiGHS does")
    return answer.status == "infeasible"
