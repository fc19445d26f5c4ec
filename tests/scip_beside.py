"""The programme of a study said to SCIP with more besides (M. Bolusani et al., The SCIP Optimization Suite 9.0, 2024).

Nothing here knows how reaccord states what is besides: constraints are written in cvxpy, nearly as the manual has
them. SCIP runs in a process of its own, since it ends its process now and then.
"""

from __future__ import annotations

import faulthandler
import math
import multiprocessing
from collections.abc import Callable
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection
from typing import Any

import numpy as np

from reaccord.contract import Budget, Programme
from reaccord.solvers.cvxpy_runs import run_scip
from reaccord.solvers.statement import Statement, by_stock_alone, statement
from reaccord.solvers.switching import Switches, per_batch

NOISE = 2e-4
"""Relative; SCIP keeps rows to 1e-6 of amounts around 1, which moves a deviation by about so much."""


@dataclass(frozen=True)
class Said:
    """What SCIP said: the least it found, a bound on it, whether nothing holds, the columns it used."""

    value: float
    bound: float
    infeasible: bool
    amounts: Any = None


Asked = Callable[[Statement], tuple[Any, list[Any]]]
"""Gives what to minimise and what must hold besides the study's own limits; amounts are in batches."""


def minimised(programme: Programme, asked: Asked, size: float = 1.0, seconds: float = 20.0) -> Said | None:
    """Return what SCIP says; None if it ended its process or has no answer in time."""
    context = multiprocessing.get_context("fork")
    here, there = context.Pipe(duplex=False)
    own = context.Process(target=_answer, args=(programme, asked, size, seconds, there))
    own.start()
    there.close()
    try:
        said: Said | None = here.recv() if here.poll(2 * seconds) else None
    except EOFError:
        said = None
    own.kill()
    own.join()
    return said


def _answer(programme: Programme, asked: Asked, size: float, seconds: float, there: Connection) -> None:
    faulthandler.disable()
    there.send(said_by_scip(programme, asked, size, seconds))


def said_by_scip(programme: Programme, asked: Asked, size: float, seconds: float) -> Said | None:
    """Return what SCIP says, in this process."""
    import cvxpy as cp

    scaled = per_batch(replace(programme, factor=programme.factor / size))
    said = statement(scaled, switched_all(scaled))
    least, more = asked(said)
    problem = cp.Problem(cp.Minimize(least), [*said.problem.constraints, *more])
    model = run_scip(problem, Budget(1e-5, seconds).running())
    if model.getStatus() == "infeasible":
        return Said(math.inf, math.inf, infeasible=True)
    if said.amounts.value is None or model.getStatus() not in {"optimal", "gaplimit"}:
        return None
    return Said(float(problem.value), float(model.getDualbound()), False, np.array(said.amounts.value))


def switched_all(programme: Programme) -> Switches:
    """Return switches for every column: what is used can be counted whatever else is asked."""
    found = by_stock_alone(programme)
    far = np.where(np.isfinite(found.upper), found.upper, 100 * programme.batch_g)
    return Switches(np.ones(len(far), dtype=bool), far, np.zeros(len(far), dtype=bool))


def length(said: Statement, programme: Programme) -> Any:
    """Return the deviation as SCIP minimises it: of squares the root."""
    import cvxpy as cp

    norm = {"squares": cp.norm2, "absolute": cp.norm1, "worst": cp.norm_inf}[programme.measure]
    return norm(said.scaled)


def root(deviation: float, programme: Programme) -> float:
    """Return the length of a deviation."""
    return math.sqrt(deviation) if programme.measure == "squares" else deviation


def deviation(length: float, programme: Programme) -> float:
    """Return the deviation of a length."""
    return length**2 if programme.measure == "squares" else length
