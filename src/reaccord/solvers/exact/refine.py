"""A solution and its duals refined: what DAQP leaves open of a small deviation can be more than the gap asked for.

DAQP works on the squared contents, raised a little; a deviation of 1e-5 of shelves that fit well then has duals that
prove a thousandth less than its value. Here the solution is found again as least squares of the contents themselves,
on the limits and ends that carry a dual (others stop the way, as in any active-set method), and the duals as those of
the linear programme `least gradient @ x`: of all duals at a point they prove most, also where they are not unique.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray
from reaccord.solvers import highs
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.qp import Point, Quadratic
from reaccord.solvers.exact.scaled import IntArray

BoolArray = NDArray[np.bool_]

NEAR = 1e-9
"""How near to its end an amount, to its most a row, may be found; nothing is there that carries no dual."""
CARRIES = 1e-9
"""A dual counts from this part of the steepest slope on."""
SAME, NOTHING, STEPS = 1e-11, 1e-15, 100
TOLERANCES: dict[str, Any] = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}
MOST_SLOPE = 1e7  # for HiGHS the slopes are in units of the squares, but never steeper than this


def refined(
    model: Model, columns: IntArray, quadratic: Quadratic, point: Point, over: Callable[[], bool] = lambda: False
) -> Point:
    """Return `point` of `model` restricted to `columns` made better, with the duals that prove most there.

    Where HiGHS fails, or `over` says that time is up, it is `point` as it was.
    """
    squares = _Squares.of(model, columns)
    x = _Way(quadratic, squares, point).walk(over)
    return (None if over() else _with_duals(quadratic, squares, x)) or point


class _Squares(NamedTuple):
    """The squares of a quadratic programme as they are: `|root x - aim|^2`, shapes (K, n) and (K,)."""

    root: FloatArray
    aim: FloatArray

    @staticmethod
    def of(model: Model, columns: IntArray) -> _Squares:
        """Return the squares over some columns and the variable of every band row, as `Model.restricted` has them."""
        scaled = model.scaled
        banded = np.flatnonzero(scaled.banded)
        bands = np.zeros((len(scaled.low), len(banded)))
        bands[banded, np.arange(len(banded))] = -1.0
        root = np.hstack([scaled.content[:, columns], bands])
        return _Squares(root, np.where(scaled.banded, 0.0, scaled.low))

    def residuals(self, x: FloatArray) -> FloatArray:
        """Return what each row is off at `x`, shape (K,)."""
        return np.asarray(self.root @ x - self.aim)

    def slopes(self, x: FloatArray) -> FloatArray:
        """Return the slopes of the squares at `x`, by the residuals, where nothing large cancels; shape (n,)."""
        return np.asarray(2.0 * self.root.T @ self.residuals(x))


@dataclass
class _Held:
    """What is held while the squares are made least: entries at their lower or upper end (n,), rows (m,)."""

    at_lower: BoolArray
    at_upper: BoolArray
    rows: BoolArray


class _Way:
    """From a point to the least squares on what is held, stopped by whatever lies in between."""

    def __init__(self, quadratic: Quadratic, squares: _Squares, point: Point) -> None:
        n = len(quadratic.linear)
        self.quadratic, self.squares = quadratic, squares
        self.lower, self.upper = quadratic.lower[:n], quadratic.upper[:n]
        self.most = quadratic.upper[n:]
        self.span = np.clip(self.upper - self.lower, 0.0, 1.0)
        self.span[self.span == 0] = 1.0
        x = np.clip(point.x, self.lower, self.upper)
        slopes = squares.slopes(x)
        carried = CARRIES * float(np.abs(slopes).max(initial=0.0))
        reduced = slopes + point.duals @ quadratic.rows
        at_lower = (x <= self.lower + NEAR) & ((reduced > carried) | (self.lower == self.upper))
        at_upper = (x >= self.upper - NEAR) & (reduced < -carried) & ~at_lower
        rows = (point.duals > carried) & (self.most - quadratic.rows @ x <= NEAR)
        rows[0] = True
        self.held = _Held(at_lower, at_upper, rows)
        self.x = np.where(at_lower, self.lower, np.where(at_upper, self.upper, x))

    def walk(self, over: Callable[[], bool]) -> FloatArray:
        """Return where it ends, shape (n,)."""
        for _ in range(STEPS):
            if over():
                break
            step = self._step()
            if self._taken(step):
                break
        return self.x

    def _step(self) -> FloatArray:
        """Return the least change, in parts of what each entry may be, to the least squares on what is held; (n,)."""
        free = np.flatnonzero(~(self.held.at_lower | self.held.at_upper))
        span = self.span[free]
        residual = self.squares.residuals(self.x)
        root = self.squares.root[:, free] * span
        rows = self.quadratic.rows[np.ix_(self.held.rows, free)] * span
        short = (self.most - self.quadratic.rows @ self.x)[self.held.rows]
        left, sizes, right = np.linalg.svd(rows)
        rank = int((sizes > SAME * sizes.max(initial=0.0)).sum())
        change = right[:rank].T @ ((left[:, :rank].T @ short) / sizes[:rank])
        within = right[rank:].T
        if len(right) > rank:
            change = change + within @ np.linalg.lstsq(root @ within, -(residual + root @ change), rcond=SAME)[0]
        step = np.zeros(len(self.x))
        step[free] = span * change
        return step

    def _taken(self, step: FloatArray) -> bool:
        """Go as far as nothing is in the way, hold what is; return whether it was the whole step."""
        x, held, n = self.x, self.held, len(self.x)
        rising = self.quadratic.rows @ step
        room = np.concatenate([x - self.lower, self.upper - x, self.most - self.quadratic.rows @ x])
        speed = np.concatenate([-step, step, rising])
        stops = (speed > NOTHING) & ~np.concatenate([held.at_lower, held.at_upper, held.rows])
        parts = np.where(stops, np.maximum(room, 0.0) / np.where(stops, speed, 1.0), np.inf)
        first = int(np.argmin(parts))
        self.x = np.clip(x + min(1.0, float(parts[first])) * step, self.lower, self.upper)
        if parts[first] >= 1.0:
            return True
        if first < n:
            held.at_lower[first] = True
            self.x[first] = self.lower[first]
        elif first < 2 * n:
            held.at_upper[first - n] = True
            self.x[first - n] = self.upper[first - n]
        else:
            held.rows[first - 2 * n] = True
        return False


def _with_duals(quadratic: Quadratic, squares: _Squares, x: FloatArray) -> Point | None:
    """Return `x` with the duals that prove most there, None if HiGHS has none."""
    n = len(x)
    residual, slopes = squares.residuals(x), squares.slopes(x)
    size = max(float(residual @ residual), float(np.abs(slopes).max(initial=0.0)) / MOST_SLOPE)
    if size == 0.0:  # nothing is off: no dual is needed
        return Point(x, np.zeros(len(quadratic.rows)), np.zeros(n))
    linear = highs.Linear(
        cost=slopes / size,
        lower=quadratic.lower[:n],
        upper=quadratic.upper[:n],
        rows=quadratic.rows,
        least=quadratic.lower[n:],
        most=quadratic.upper[n:],
    )
    said = highs.solve(linear, presolve="off", **TOLERANCES)
    if said.columns is None:
        return None
    duals = -size * said.duals
    reduced = slopes + duals @ quadratic.rows
    carried = CARRIES * float(np.abs(slopes).max())
    at_end = (x <= quadratic.lower[:n] + NEAR) & (reduced > carried)
    at_end |= (x >= quadratic.upper[:n] - NEAR) & (reduced < -carried)
    return Point(x, duals, np.where(at_end, -reduced, 0.0))
