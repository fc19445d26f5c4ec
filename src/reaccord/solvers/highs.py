"""HiGHS, for every question here that is linear: its words as plain arrays, off standard output, on one thread."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Sequence
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray
from reaccord.findings import SolverFault
from reaccord.solvers.quiet import quiet

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.intp]
Ended = Literal["optimal", "infeasible", "stopped", "failed"]


ALWAYS: dict[str, Any] = {"output_flag": False, "threads": 1, "mip_heuristic_run_feasibility_jump": False}
"""Options of every question. The jump takes longer than all the rest where programmes are small, as most are here."""

NOISE, PROVEN_BY = 1e-9, 1e-7
"""Relative to the largest multiplier: what counts as none, and what a proof that nothing holds must be out by."""

Entries = tuple[IntArray, IntArray, FloatArray]
"""Row, column and number of each entry that is not zero; shapes (entries,)."""


class Rows(NamedTuple):
    """A matrix row by row: where each row's entries start (m + 1,), their columns and numbers (entries,)."""

    indptr: NDArray[np.int32]
    indices: NDArray[np.int32]
    data: FloatArray


def entries(matrix: FloatArray) -> Entries:
    """Return the entries of a dense matrix that are not zero."""
    row, column = np.nonzero(matrix)
    return row, column, matrix[row, column]


def by_rows(parts: Sequence[Entries], height: int) -> Rows:
    """Return a matrix of so many rows from its entries, row by row and in the order of columns."""
    row, column, value = (np.concatenate([part[k] for part in parts]) for k in range(3))
    order = np.lexsort((column, row))
    start = np.concatenate([[0], np.cumsum(np.bincount(row, minlength=height))])
    return Rows(start.astype(np.int32), column[order].astype(np.int32), value[order])


class Linear(NamedTuple):
    """`min cost @ x` with `lower <= x <= upper` and `least <= rows @ x <= most`; columns marked `whole` are integers.

    Shapes: cost, lower, upper, whole (n,); rows (m, n), dense, `Rows` or a scipy sparse array in CSR form; least, most
    (m,).
    """

    cost: FloatArray
    lower: FloatArray
    upper: FloatArray
    rows: Any
    least: FloatArray
    most: FloatArray
    whole: BoolArray | None = None


class Told(NamedTuple):
    """What a search is told from outside, and tells.

    `stop()` ends it when true; `progress(value, bound, nodes)`, in the units of the cost; `start` are columns (n,) to
    begin from, which HiGHS believes only after its own check.
    """

    stop: Callable[[], bool] | None = None
    progress: Callable[[float, float, int], None] | None = None
    start: FloatArray | None = None


class Said(NamedTuple):
    """What HiGHS said: columns (n,) or None, the cost they have, a bound on it, duals of the rows (m,), nodes."""

    ended: Ended
    columns: FloatArray | None
    value: float
    bound: float
    duals: FloatArray
    nodes: int
    message: str


def solve(model: Linear, told: Told | None = None, **options: Any) -> Said:
    """Return HiGHS's answer; `options` are its own (`mip_rel_gap`, `time_limit`, tolerances).

    Raises
    ------
    SolverFault
        HiGHS does not take the model or an option.
    """
    import highspy

    told = told or Told()
    with quiet():  # it prints a banner when it is made, and now and then a line for its own developers
        solver = _solver(anew=bool(told.stop or told.progress))
        for name, value in ALWAYS.items():
            solver.setOptionValue(name, value)
        for name, value in options.items():
            _must(solver.setOptionValue(name, value), f"its option {name} = {value}")
        _must(solver.passModel(_stated(model)), "the model")
        if told.start is not None:
            start = highspy.HighsSolution()
            start.col_value = told.start.tolist()
            solver.setSolution(start)
        if model.whole is not None and (told.stop or told.progress):
            solver.cbMipInterrupt.subscribe(_asked(told))
        _run(solver)
        return _said(solver, model)


def _run(solver: Any) -> None:
    """Let HiGHS answer; where another library has asked it before, with more threads, these are put away first.

    All threads of a process are its own, and it does nothing for whoever asks for another number of them.
    """
    if solver.run().name == "kError" and solver.getModelStatus().name == "kNotset":
        solver.resetGlobalScheduler(True)
        solver.run()


_KEPT = threading.local()


def _solver(*, anew: bool) -> Any:
    """Return a solver without model and options: one a thread, to make it takes as long as a small question.

    What listens to a solver stays with it, so that one that tells of its search is made `anew`.
    """
    import highspy

    made: Any = highspy.Highs  # its types leave this one out
    if anew:
        return made()
    if not hasattr(_KEPT, "solver"):
        _KEPT.solver = made()
    _KEPT.solver.clear()
    return _KEPT.solver


def _must(status: Any, what: str) -> None:
    if status.name == "kError":
        raise SolverFault(f"HiGHS does not take {what}")


def _stated(model: Linear) -> Any:
    """Return the model in HiGHS's own form, row by row."""
    import highspy

    stated = highspy.HighsLp()
    stated.num_col_, stated.num_row_ = len(model.cost), len(model.least)
    stated.col_cost_, stated.col_lower_, stated.col_upper_ = model.cost, model.lower, model.upper
    stated.row_lower_, stated.row_upper_ = model.least, model.most
    rows = by_rows([entries(model.rows)], len(model.least)) if isinstance(model.rows, np.ndarray) else model.rows
    matrix = stated.a_matrix_
    matrix.format_, matrix.num_col_, matrix.num_row_ = highspy.MatrixFormat.kRowwise, len(model.cost), len(model.least)
    matrix.start_, matrix.index_, matrix.value_ = rows.indptr, rows.indices, rows.data
    if model.whole is not None:
        kinds = highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger
        stated.integrality_ = [kinds[int(whole)] for whole in model.whole]
    return stated


def _asked(told: Told) -> Callable[[Any], None]:
    """Return what HiGHS calls while it searches."""

    def call(event: Any) -> None:
        seen = event.data_out
        if told.progress is not None:
            told.progress(float(seen.mip_primal_bound), float(seen.mip_dual_bound), int(seen.mip_node_count))
        if told.stop is not None and told.stop():
            event.interrupt()

    return call


STOPPED = ("kTimeLimit", "kInterrupt", "kIterationLimit", "kSolutionLimit")


def _bounded(model: Linear) -> bool:
    """Whether the cost alone cannot fall without end: where HiGHS cannot tell, it is the limits then."""
    return bool(((model.cost == 0) | ((model.cost > 0) & np.isfinite(model.lower))).all())


def _ended(model: Linear, status: str) -> Ended:
    if status in ("kOptimal", "kModelEmpty"):
        return "optimal"
    if status == "kInfeasible" or (status == "kUnboundedOrInfeasible" and _bounded(model)):
        return "infeasible"
    return "stopped" if status in STOPPED else "failed"


def _said(solver: Any, model: Linear) -> Said:
    status, info, found = solver.getModelStatus(), solver.getInfo(), solver.getSolution()
    ended = _ended(model, status.name)
    feasible = bool(found.value_valid) and info.primal_solution_status == 2  # kSolutionStatusFeasible
    columns = np.array(found.col_value, dtype=float) if feasible and ended in ("optimal", "stopped") else None
    value = float(info.objective_function_value) if columns is not None else math.inf
    duals = np.array(found.row_dual, dtype=float) if found.dual_valid else np.zeros(len(model.least))
    bound = value if model.whole is None and ended == "optimal" else -math.inf
    if model.whole is not None and math.isfinite(info.mip_dual_bound):
        bound = float(info.mip_dual_bound)
    return Said(
        ended, columns, value, bound, duals, max(int(info.mip_node_count), 0), solver.modelStatusToString(status)
    )


class Loaded:
    """A linear programme that stays in HiGHS while costs and ends change: it goes on from the last answer's basis.

    `tolerance` is how far rows and duals may be off.
    """

    def __init__(self, model: Linear, tolerance: float = 1e-7) -> None:
        self._model, self._lower, self._upper = model, model.lower.copy(), model.upper.copy()
        self._solver = _spare().pop() if _spare() else _for_linear()
        for side in ("primal", "dual"):
            self._solver.setOptionValue(f"{side}_feasibility_tolerance", tolerance)
        _must(self._solver.passModel(_stated(model)), "the model")

    def __del__(self) -> None:
        """Leave the solver to the next: to make one takes as long as to ask it."""
        if hasattr(self, "_solver"):
            _spare().append(self._solver)

    def price(self, columns: NDArray[np.int32], costs: FloatArray) -> None:
        """Give columns other costs."""
        _must(self._solver.changeColsCost(len(columns), columns, costs), "costs")

    def bound(self, columns: NDArray[np.int32], lower: FloatArray, upper: FloatArray) -> None:
        """Give columns other ends."""
        self._lower[columns], self._upper[columns] = lower, upper
        _must(self._solver.changeColsBounds(len(columns), columns, lower, upper), "ends of columns")

    def rows(self, row: int, least: float, most: float) -> None:
        """Give a row other ends."""
        _must(self._solver.changeRowBounds(row, least, most), "ends of a row")

    def solve(self) -> Said:
        """Return HiGHS's answer."""
        _run(self._solver)
        return _said(self._solver, self._model)

    def between(self, columns: IntArray, low: FloatArray, high: FloatArray) -> tuple[FloatArray | None, float] | None:
        """Return the columns (n,) and the cost with some between other ends; None and infinity if there are none.

        None alone where HiGHS fails.
        """
        self.bound(columns.astype(np.int32), low, high)
        _run(self._solver)
        ended = _ended(self._model, self._solver.getModelStatus().name)
        if ended == "infeasible" and not self._none_left():  # from another question's basis it may err: asked anew
            self._solver.clearSolver()
            _run(self._solver)
            ended = _ended(self._model, self._solver.getModelStatus().name)
        if ended == "infeasible":
            return None, math.inf
        if ended != "optimal":
            return None
        return np.array(self._solver.getSolution().col_value, dtype=float), float(self._solver.getObjectiveValue())

    def _none_left(self) -> bool:
        """Tell whether HiGHS's multipliers prove that no columns hold: a sum of rows that cannot be what is asked."""
        model, (_, there, ray) = self._model, self._solver.getDualRay()
        if not (there and isinstance(model.rows, Rows)):
            return False
        size = float(np.abs(ray).max(initial=0.0))
        of_rows = np.where(np.abs(ray) > NOISE * size, ray, 0.0)
        entry = model.rows.data * of_rows.repeat(model.rows.indptr[1:] - model.rows.indptr[:-1])
        sums = np.bincount(model.rows.indices, entry, len(model.cost))
        of_columns: FloatArray = np.where(np.abs(sums) > NOISE * size, sums, 0.0)
        lowest, highest = _span(of_columns, self._lower, self._upper)
        asked, most = _span(of_rows, model.least, model.most)
        return max(lowest - most, asked - highest) > PROVEN_BY * size


def _span(factors: FloatArray, low: FloatArray, high: FloatArray) -> tuple[float, float]:
    """Return the least and the most that `factors @ x` can be with `low <= x <= high`."""
    there = factors.nonzero()[0]
    factors = factors[there]
    one, other = factors * low[there], factors * high[there]
    return float(np.minimum(one, other).sum()), float(np.maximum(one, other).sum())


def _spare() -> list[Any]:
    """Return the solvers of this thread that nothing is loaded in any more."""
    if not hasattr(_KEPT, "spare"):
        _KEPT.spare = []
    spare: list[Any] = _KEPT.spare
    return spare


def _for_linear() -> Any:
    """Return a solver for linear programmes in turn: they are done before presolve has looked at them."""
    import highspy

    made: Any = highspy.Highs
    with quiet():
        solver = made()
        for name, value in (*ALWAYS.items(), ("presolve", "off"), ("solver", "simplex")):
            solver.setOptionValue(name, value)
    return solver
