"""The whole programme in one readable statement: the second opinion on every other solver.

`statement` says the programme of `contract.py` in cvxpy, nearly word for word. With switches it goes to SCIP;
without them, and once the pattern of on and off is known, to Clarabel (squares) or HiGHS (the linear
measures). Slower than the other doors and meant to be: nothing clever happens here that could be wrong in the
same way as there.

SCIP ends at `Effort.seconds`, not at `Effort.stop`: cvxpy gives no way in while it runs.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from reaccord.contract import Answer, Effort, FloatArray, Measure, Programme
from reaccord.findings import SolverFault
from reaccord.solvers import linear
from reaccord.solvers.cvxpy_runs import HIGHS, run, run_clarabel, run_scip
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


@dataclass(frozen=True)
class Statement:
    """A programme said in cvxpy.

    The problem, its amounts (n,) in batches, its switches (n,), its scaled deviations (K,).
    """

    problem: Any
    amounts: Any
    used: Any
    scaled: Any


def solve(programme: Programme, effort: Effort | None = None) -> Answer:
    """Return the smallest deviation of a programme by any measure, and its bound.

    Raises
    ------
    MissingSolver
        Something must be switched and SCIP is not installed.
    SolverFault
        A solver failed, or what it gave does not hold.
    """
    effort = effort or Effort()
    started = time.perf_counter()
    until = started + effort.seconds
    switches = switches_of(per_batch(programme))
    if effort.stop():
        found = Found("reference", _versions())
    elif hopeless(per_batch(programme), switches):  # a row without entries that cannot hold never reaches SCIP
        found = Found("reference", _versions(), infeasible=not switches.assumed.any())
    elif len(switches.columns):
        found = _switched(programme, switches, effort, until)
    else:
        found = _continuous(programme, switches, effort, until)
    return verdict(programme, effort, found, started)


def statement(programme: Programme, switches: Switches) -> Statement:
    """State a programme (`per_batch`) in cvxpy."""
    import cvxpy as cp

    amounts = cp.Variable(len(programme.columns))
    used, rules = _on_and_off(programme, switches, amounts)
    achieved = programme.content @ amounts / programme.batch_g
    inside, in_band = _nearest_inside(programme)
    # A variable of its own: cvxpy 1.9.3 derives false bounds for the square of an affine expression
    # with infinite ends (inf x 0) and SCIP then finds nothing feasible.
    scaled = cp.Variable(len(programme.rows))
    rules += [scaled == cp.multiply(programme.factor, achieved - inside), *in_band]
    rules += [programme.basis @ amounts == programme.batch_g]
    rules += [row.amounts @ amounts + row.used @ used <= row.most for row in programme.limits]
    deviation = {"squares": cp.sum_squares, "absolute": cp.norm1, "worst": cp.norm_inf}[programme.measure]
    return Statement(cp.Problem(cp.Minimize(deviation(scaled)), rules), amounts, used, scaled)


def _on_and_off(programme: Programme, switches: Switches, amounts: Any) -> tuple[Any, list[Any]]:
    """Return the switches (n,), 1 where nothing is switched, and what ties the amounts to them."""
    import cvxpy as cp

    columns = switches.columns
    free = np.flatnonzero(~switches.switched)
    bounded = free[np.isfinite(switches.upper[free])]
    rules = [amounts[free] >= programme.minimum[free], amounts[bounded] <= switches.upper[bounded]]
    dead = np.flatnonzero(switches.switched & (switches.upper == 0))
    rules += [amounts[dead] == 0]
    used: Any = np.where(switches.switched, 0.0, 1.0)
    if not len(columns):
        return used, rules
    on = cp.Variable(len(columns), boolean=True)
    used = used + np.eye(len(programme.columns))[:, columns] @ on
    rules += [amounts[columns] <= cp.multiply(switches.upper[columns], on)]
    rules += [amounts[columns] >= cp.multiply(programme.minimum[columns], on)]
    for strengths in programme.strengths:
        chosen = cp.Variable(len(strengths), boolean=True)
        rules += [used[list(members)] <= chosen[k] for k, members in enumerate(strengths)]
        rules += [cp.sum(chosen) <= 1]
    return used, rules


def _nearest_inside(programme: Programme) -> tuple[Any, list[Any]]:
    """Return the point (K,) of each row's band that it is measured from, and what keeps it there."""
    import cvxpy as cp

    low, high = programme.low, programme.high
    bands = np.flatnonzero(low < high)
    if not len(bands):
        return low, []
    place = cp.Variable(len(bands))
    capped = np.flatnonzero(np.isfinite(high[bands]))
    rules = [place >= low[bands], place[capped] <= high[bands][capped]]
    return np.where(low < high, 0.0, low) + np.eye(len(low))[:, bands] @ place, rules


def _switched(programme: Programme, switches: Switches, effort: Effort, until: float) -> Found:
    """Let SCIP choose what is on, then solve the rest again."""
    scaled = per_batch(programme)
    root = _root(scaled, switches)
    power = 2 if scaled.measure == "squares" else 1
    said = _root_of_squares(statement(replace(scaled, factor=scaled.factor / root), switches), scaled.measure)
    model = run_scip(said.problem, effort.gap, until)
    bound = (max(float(model.getDualbound()), 0.0) * root) ** power
    found = Found("reference, SCIP", _versions("pyscipopt"), nodes=int(model.getNTotalNodes()))
    certain = not switches.assumed.any()
    if model.getStatus() == "infeasible":
        return replace(found, infeasible=certain and _confirmed(programme, effort, until))
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


def _continuous(programme: Programme, switches: Switches, effort: Effort, until: float) -> Found:
    """Solve a programme in which nothing is switched."""
    fixed, none, kept = with_pattern(per_batch(programme), switches, ~switches.switched)
    part, bound = _best(fixed, none)
    name, package = ("Clarabel", "clarabel") if fixed.measure == "squares" else ("HiGHS", "scipy")
    found = Found(f"reference, {name}", _versions(package))
    if part is None:
        return replace(found, infeasible=_confirmed(programme, effort, until))
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


def _confirmed(programme: Programme, effort: Effort, until: float) -> bool:
    """Tell whether HiGHS finds no formula either: a wrong "impossible" is the worst answer of all.

    Raises
    ------
    SolverFault
        HiGHS has a formula that holds.
    """
    any_formula = replace(programme, factor=np.zeros_like(programme.factor), measure="absolute")
    answer = linear.solve(any_formula, Effort(seconds=until - time.perf_counter(), stop=effort.stop))
    if answer.amounts is not None:
        raise SolverFault("SCIP or Clarabel finds no formula inside the limits, HiGHS does")
    return answer.status == "infeasible"


def _versions(*more: str) -> str:
    from importlib.metadata import version

    return ", ".join(f"{name} {version(name)}" for name in ("cvxpy", *more))
