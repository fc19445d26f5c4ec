"""One run of one solver on a problem stated in cvxpy: tolerances, faults, silence."""

from __future__ import annotations

import math
import warnings
from typing import Any

from reaccord.contract import Budget
from reaccord.findings import ReaccordError, SolverFault
from reaccord.solvers.quiet import quiet

CLARABEL = (1e-12, 1e-9)
"""Tolerances in turn: the second is for programmes that leave an interior point hardly any room."""

HIGHS: dict[str, Any] = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}

SCIP: dict[str, Any] = {
    # SCIP 10's presolve: an "optimum" with a limit broken by 5e-5, a false "infeasible" (1 programme in 300 each)
    "presolving/maxrounds": 0,
    "misc/catchctrlc": False,
}

FEASIBLE_TO = (1e-8, 1e-6)
"""SCIP's tolerances in turn, the second if it fails at the first. At 1e-9 it needs up to 500 times the nodes."""


class MissingSolver(ReaccordError):
    """The reference solver needs a package that is not installed."""

    code = "missing-solver"


def run(problem: Any, solver: str, **options: Any) -> bool:
    """Solve a continuous problem; tell whether there is a solution.

    Raises
    ------
    SolverFault
        The solver gave up.
    """
    import cvxpy as cp

    with quiet(), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Solution may be inaccurate")  # it is verified and bounded anyway
        try:
            problem.solve(solver=solver, **options)
        except cp.SolverError as fault:
            raise SolverFault(f"{solver} failed: {fault}") from fault
    if problem.status in (cp.OPTIMAL, cp.OPTIMAL_INACCURATE):
        return True
    if problem.status in (cp.INFEASIBLE, cp.INFEASIBLE_INACCURATE, cp.UNBOUNDED):
        return False
    raise SolverFault(f"{solver} ended with {problem.status}")


def run_clarabel(problem: Any) -> bool:
    """Solve a problem with Clarabel as exactly as it can; tell whether there is a solution."""
    for tolerance in CLARABEL[:-1]:
        try:
            return run(problem, "CLARABEL", **_to(tolerance))
        except SolverFault:
            continue
    return run(problem, "CLARABEL", **_to(CLARABEL[-1]))


def _to(tolerance: float) -> dict[str, Any]:
    names = ("tol_gap_abs", "tol_gap_rel", "tol_feas")
    return {**dict.fromkeys(names, tolerance), "max_iter": 500}


def run_scip(problem: Any, budget: Budget) -> Any:
    """Run SCIP and leave its best formula, if any, in the problem's variables; return SCIP's model.

    It stops at a quarter of the relative gap or when no time is left. `problem.solve` would do,
    but at a time limit it throws the bound away.

    Raises
    ------
    MissingSolver
        SCIP is not installed.
    SolverFault
        SCIP gave up at every tolerance.
    """
    try:
        import pyscipopt  # noqa: F401
    except ModuleNotFoundError as missing:
        raise MissingSolver(
            "the reference solver needs SCIP where bottles have a smallest weighable mass or are counted; "
            "install it with: pip install 'reaccord[test]'"
        ) from missing
    data, chain, inverse = problem.get_problem_data("SCIP")
    status = "not run"
    for tolerance in FEASIBLE_TO:
        options = {**SCIP, "numerics/feastol": tolerance, "numerics/dualfeastol": min(tolerance, 1e-7)}
        options["limits/gap"] = budget.gap / 4  # of the root of the squares: half of theirs
        if math.isfinite(budget.seconds):
            options["limits/time"] = budget.left()
        with quiet(1, 2):
            raw = chain.solve_via_data(problem, dict(data), solver_opts={"scip_params": options})
        status = raw["model"].getStatus()
        if status in ("optimal", "gaplimit", "timelimit", "infeasible"):
            break
    else:
        raise SolverFault(f"SCIP failed: {status}")
    if "primal" in raw:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", "Solution may be inaccurate")  # it is verified anyway
            problem.unpack_results(raw, chain, inverse)
    return raw["model"]
