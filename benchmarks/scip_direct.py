"""SCIP on the programme as it stands: a binary per switch, one epigraph `e_k >= (y_k - v_k)^2` per row.

This is the form SCIP does best with; a second-order cone over all rows is far slower. Its own value may be too low by
the tolerance of the epigraphs, so values are recomputed from its amounts.
"""

from __future__ import annotations

import math
import time
from dataclasses import replace
from typing import Any

import numpy as np

from reaccord.contract import Answer, Budget, FloatArray, Programme
from reaccord.solvers.exact.scaled import Scaled, scale

ROOM, ENDLESS = 1e-6, 1e4
KEPT_TO = 1e-6
"""What SCIP's amounts may break a limit by, of its size: its own tolerance."""


def solve(programme: Programme, budget: Budget) -> Answer:
    """Return SCIP's answer, value recomputed; status `feasible` where it did not reach the gap."""
    import pyscipopt

    started = time.perf_counter()
    scaled = _bounded(scale(programme))
    model = pyscipopt.Model()
    model.hideOutput()
    model.setParam("limits/gap", budget.gap)
    model.setParam("parallel/maxnthreads", 1)
    model.setParam("timing/clocktype", 1)  # seconds of the processor
    if math.isfinite(budget.seconds):
        model.setParam("limits/time", budget.seconds)
    amounts, used = _columns(model, scaled)
    _limits(model, scaled, amounts, used)
    _rows(model, scaled, amounts)
    model.optimize()
    seconds = time.perf_counter() - started
    bound = max(0.0, float(model.getDualbound()))
    name, libraries = "SCIP", ("pyscipopt",)
    if model.getStatus() == "infeasible":
        return Answer("infeasible", None, math.inf, math.inf, name, libraries, seconds, model.getNNodes())
    if model.getNSols() == 0:
        return Answer("no_answer", None, math.inf, bound, name, libraries, seconds, model.getNNodes())
    found = np.array([model.getVal(x) for x in amounts])
    grams = np.where(found < 0.5 * scaled.minimum, 0.0, found) * programme.batch_g
    if programme.excess(grams) > KEPT_TO:  # no formula: it does not hold the limits
        return Answer("no_answer", None, math.inf, bound, name, libraries, seconds, model.getNNodes())
    value = programme.value(grams)
    proven = value - bound <= budget.gap * value * (1 + 1e-3) + 1e-9
    return Answer(
        "proven" if proven else "feasible", grams, value, bound, name, libraries, seconds, int(model.getNNodes())
    )


def _bounded(scaled: Scaled) -> Scaled:
    """Return the programme with the batch as an upper bound where there is none; nothing of our presolve."""
    with np.errstate(divide="ignore"):
        alone = np.where(scaled.basis > 0, (1.0 + ROOM) / scaled.basis, ENDLESS)
    maximum = np.minimum(scaled.maximum, np.minimum(alone, ENDLESS))
    return replace(scaled, maximum=np.where(maximum < scaled.minimum, 0.0, maximum))


def _columns(model: Any, scaled: Scaled) -> tuple[list[Any], list[Any]]:
    """Return amounts (at batch 1) and binaries of all columns."""
    amounts, used = [], []
    for i, (least, most) in enumerate(zip(scaled.minimum.tolist(), scaled.maximum.tolist(), strict=True)):
        amounts.append(model.addVar(f"x{i}", lb=0.0, ub=most))
        used.append(model.addVar(f"z{i}", vtype="B", ub=1.0 if most > 0 else 0.0))
        if most > 0:
            model.addCons(amounts[i] >= least * used[i])
            model.addCons(amounts[i] <= most * used[i])
    return amounts, used


def _limits(model: Any, scaled: Scaled, amounts: list[Any], used: list[Any]) -> None:
    import pyscipopt

    def total(entries: FloatArray, variables: list[Any]) -> Any:
        return pyscipopt.quicksum(float(entries[i]) * variables[i] for i in np.flatnonzero(entries))

    model.addCons(total(scaled.basis, amounts) == 1.0)
    for row, switches, most in zip(scaled.amounts, scaled.used, scaled.most, strict=True):
        if row.any() or switches.any():
            model.addCons(total(row, amounts) + total(switches, used) <= float(most))
        elif most < 0:  # a limit that nothing on the shelf can meet
            model.addCons(amounts[0] <= -1.0)
    for strengths in scaled.groups:
        opened = [model.addVar(vtype="B") for _ in strengths]
        model.addCons(pyscipopt.quicksum(opened) <= 1)
        for columns, one in zip(strengths, opened, strict=True):
            for i in columns:
                model.addCons(used[i] <= one)


def _rows(model: Any, scaled: Scaled, amounts: list[Any]) -> None:
    import pyscipopt

    squares = []
    for row, low, high in zip(scaled.content, scaled.low.tolist(), scaled.high.tolist(), strict=True):
        off = model.addVar(lb=None)
        inside = model.addVar(lb=low, ub=high)
        square = model.addVar(lb=0.0)
        achieved = pyscipopt.quicksum(float(row[i]) * amounts[i] for i in np.flatnonzero(row))
        model.addCons(achieved - inside == off)
        model.addCons(off * off <= square)
        squares.append(square)
    model.setObjective(pyscipopt.quicksum(squares) + scaled.constant)
