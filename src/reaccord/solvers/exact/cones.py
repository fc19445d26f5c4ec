"""A cone programme put together row by row and handed to Clarabel."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.scaled import IntArray
from reaccord.solvers.highs import Rows, by_rows


class Cones:
    """Collects `matrix v + slack = right` as triplets: equalities, then inequalities, then cones of three."""

    def __init__(self) -> None:
        self._row: list[IntArray] = []
        self._column: list[IntArray] = []
        self._entry: list[FloatArray] = []
        self._right: list[FloatArray] = []
        self.count = self.equal = self.above = 0

    def add(self, right: FloatArray, *blocks: tuple[IntArray, IntArray, FloatArray]) -> IntArray:
        """Add rows, return their numbers; a block is (row within, variable, entry), as long, or one entry for all."""
        numbers = self.count + np.arange(len(right))
        for within, column, entry in blocks:
            self._row.append(self.count + within)
            self._column.append(column)
            self._entry.append(entry if entry.ndim else np.full(len(within), float(entry)))
        self._right.append(right)
        self.count += len(right)
        return numbers

    def inequalities_begin(self) -> None:
        """Say that all equalities were added."""
        self.equal = self.count

    def threes_begin(self) -> None:
        """Say that all inequalities were added; cones of three follow."""
        self.above = self.count - self.equal

    @property
    def triplets(self) -> tuple[IntArray, IntArray, FloatArray]:
        """Return row, column and entry of the matrix."""
        return np.concatenate(self._row), np.concatenate(self._column), np.concatenate(self._entry)

    @property
    def right(self) -> FloatArray:
        """Return the right side."""
        return np.concatenate(self._right)


class _Columns:
    """A matrix column by column as Clarabel asks for it: what it reads of scipy's, which takes long to load."""

    has_canonical_format = True

    def __init__(self, turned: Rows, shape: tuple[int, int]) -> None:
        self.indptr, self.indices, self.data = turned
        self.shape = shape


class Solved(NamedTuple):
    """Variables and duals; of a programme that Clarabel holds to have no solution the duals are to prove that."""

    variables: FloatArray
    duals: FloatArray
    infeasible: bool


def solved(cones: Cones, cost: FloatArray, squared: IntArray, close: float) -> Solved | None:
    """Return the least `cost @ v + sum v[squared]^2`, or None if Clarabel finds none.

    Scaled rows need no balancing, and the bound no refinement: without them a solve takes half the time.
    """
    return _run(cones, cost, squared, close, True) or _run(cones, cost, squared, close, False)


def _run(cones: Cones, cost: FloatArray, squared: IntArray, close: float, quick: bool) -> Solved | None:
    import clarabel

    row, column, entry = cones.triplets
    size = len(cost)
    matrix = _Columns(by_rows([(column, row, entry)], size), (cones.count, size))
    square = _Columns(by_rows([(squared, squared, np.full(len(squared), 2.0))], size), (size, size))
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = close  # the closed form pays for what is missing
    settings.equilibrate_enable = settings.iterative_refinement_enable = not quick
    settings.max_threads = 1
    threes = (cones.count - cones.equal - cones.above) // 3
    kinds = [clarabel.ZeroConeT(cones.equal), clarabel.NonnegativeConeT(cones.above)]
    kinds += [clarabel.SecondOrderConeT(3)] * threes
    answer = clarabel.DefaultSolver(square, cost, matrix, cones.right, kinds, settings).solve()
    v, duals = np.array(answer.x), np.array(answer.z)
    infeasible = str(answer.status) == "PrimalInfeasible"
    failed = quick and str(answer.status) not in {"Solved", "AlmostSolved", "PrimalInfeasible"}
    finite = np.isfinite(duals).all() and (infeasible or np.isfinite(v).all())
    if failed or not finite or ("Infeasible" in str(answer.status) and not infeasible):
        return None
    return Solved(v, duals, infeasible)
