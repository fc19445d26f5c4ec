"""One convex quadratic programme by DAQP, solved again until it is solved, and its solution made exact.

DAQP's traps, each met: a singular Hessian (every diagonal entry is raised by 1e-9), failures at that level
(again, cold, raised more), `fval_bound` compared with a transformed objective (never passed).
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray

RAISES = (1e-9, 1e-8, 1e-6)
TOLERANCES = (1e-10, 1e-8, 1e-7)
INFEASIBLE, EQUALITY = -1, 5
ITERATIONS = 20_000
FEW, ENDLESS = 20, 1e300


class Quadratic(NamedTuple):
    """Minimise `x' hessian x / 2 + linear @ x`, `lower <= (x, rows x) <= upper`, first row an equality."""

    hessian: FloatArray
    linear: FloatArray
    rows: FloatArray
    lower: FloatArray
    upper: FloatArray


class Point(NamedTuple):
    """A solution (n,) and the duals of its rows: `hessian x + linear + rows' duals` is 0 on free entries."""

    x: FloatArray
    duals: FloatArray
    bounds: FloatArray


def solve_quadratic(quadratic: Quadratic) -> Point | None:
    """Return the solution, or None if DAQP finds none (infeasible, or failed at every level)."""
    import daqp

    n, kept = len(quadratic.linear), np.arange(len(quadratic.rows))
    _, _, rows, lower, upper = quadratic
    if len(rows) > FEW:
        kept = _can_bind(quadratic)
        rows, ends = rows[kept], np.concatenate([np.arange(n), n + kept])
        lower, upper = lower[ends], upper[ends]
    sense = np.zeros(len(upper), dtype=np.int32)
    sense[n] = EQUALITY
    for raised, tolerance in zip(RAISES, TOLERANCES, strict=True):
        hessian = quadratic.hessian.copy()
        diagonal = hessian.reshape(-1)[:: n + 1]
        diagonal += raised * np.maximum(diagonal, 1e-6)
        x, _, flag, info = daqp.solve(
            hessian, quadratic.linear, rows, upper, lower, sense,
            primal_tol=tolerance, iter_limit=ITERATIONS,
        )  # fmt: skip
        if flag > 0 and _sound(quadratic, x, info["lam"]):
            duals = np.zeros(len(quadratic.rows))
            duals[kept] = info["lam"][n:]
            return Point(np.array(x), duals, np.array(info["lam"][:n]))
        if flag == INFEASIBLE and raised == RAISES[-1]:
            return None
    return None


def _can_bind(quadratic: Quadratic) -> NDArray[np.intp]:
    """Return the equality and those rows that something within the bounds of the entries passes: of many, few."""
    n = len(quadratic.linear)
    adds = np.maximum(quadratic.rows, 0.0)
    most = adds @ np.minimum(quadratic.upper[:n], ENDLESS) + (quadratic.rows - adds) @ quadratic.lower[:n]
    most[0] = np.inf
    return np.flatnonzero(most > quadratic.upper[n:])


def _sound(quadratic: Quadratic, x: FloatArray, duals: FloatArray) -> bool:
    """Return whether the solver's answer keeps its own rows to 1e-5 and is finite."""
    if not math.isfinite(float(x @ x) + float(duals @ duals)):
        return False
    values = np.concatenate([x, quadratic.rows @ x])
    return float(np.maximum(values - quadratic.upper, quadratic.lower - values).max()) <= 1e-5


def polished(quadratic: Quadratic, point: Point) -> Point:
    """Return the point solved once more on its active set, to rounding, or as it was if that breaks one."""
    n = len(quadratic.linear)
    tight = np.flatnonzero(point.duals)
    if 0 not in tight:
        tight = np.concatenate([[0], tight])
    free = np.flatnonzero(point.bounds == 0)
    fixed = np.flatnonzero(point.bounds != 0)
    x = np.where(point.bounds > 0, quadratic.upper[:n], quadratic.lower[:n])
    target = np.where(point.duals > 0, quadratic.upper[n:], quadratic.lower[n:])[tight]
    across, count = quadratic.rows[tight], len(free)
    system = np.zeros((count + len(tight), count + len(tight)))
    system[:count, :count] = quadratic.hessian[free[:, None], free]
    system[count:, :count] = across[:, free]
    system[:count, count:] = system[count:, :count].T
    right = np.concatenate([-quadratic.linear[free], target])
    if len(fixed):
        right[:count] -= quadratic.hessian[free[:, None], fixed] @ x[fixed]
        right[count:] -= across[:, fixed] @ x[fixed]
    answer = _solved(system, right)
    if answer is None:
        return point
    x[free] = answer[: len(free)]
    duals = np.zeros(len(quadratic.rows))
    duals[tight] = answer[len(free) :]
    return _if_kept(quadratic, Point(x, duals, point.bounds), point)


def _solved(system: FloatArray, right: FloatArray) -> FloatArray | None:
    """Return the solution with one step of refinement; the least one if the system is singular."""
    scale = 1.0 / np.sqrt(np.maximum(np.abs(system).max(axis=1, initial=0.0), 1e-12))
    even = system * scale[:, None] * scale
    try:
        answer = scale * np.linalg.solve(even, scale * right)
        answer += scale * np.linalg.solve(even, scale * (right - system @ answer))
    except np.linalg.LinAlgError:
        answer = scale * np.linalg.lstsq(even, scale * right, rcond=1e-13)[0]
    return answer if bool(np.isfinite(answer).all()) else None


def _if_kept(quadratic: Quadratic, better: Point, point: Point) -> Point:
    """Return `better` if it keeps every bound and every sign, else `point`."""
    n = len(quadratic.linear)
    values = np.concatenate([better.x, quadratic.rows @ better.x])
    kept = (values <= quadratic.upper + 1e-11).all() and (values >= quadratic.lower - 1e-11).all()
    signs: NDArray[np.bool_] = better.duals[1:] * np.sign(point.duals[1:]) >= 0
    if not kept or not signs.all():
        return point
    x: Any = np.clip(better.x, quadratic.lower[:n], quadratic.upper[:n])
    return Point(x, better.duals, better.bounds)
