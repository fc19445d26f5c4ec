"""How little and how much of something formulas within a deviation can hold, whatever is used: proven.

Of the continuous programme: switches and counts let go. cvxpy finds duals, and the bound is theirs in closed form, so
that it holds however accurate they are. With x, what is over t in [low, high] and residuals d, in batches:

    w x >= e - g h + sum_i min(0, r_i) upper_i + sum_k min(z_k low_k, z_k high_k) - size |z / factor|*
    r = w - e basis - content' z + limits' g

for any e, z and g >= 0, where |d factor| <= size and |.|* is the dual of the measure's norm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from reaccord.contract import FloatArray, Programme
from reaccord.findings import SolverFault
from reaccord.solvers.cvxpy_runs import run

FAR = 1000.0
"""Batches that nobody pours of one bottle."""
DUAL_OF = {"squares": 2, "absolute": np.inf, "worst": 1}


class Extents:
    """The formulas of a programme with a deviation of at most `value`."""

    def __init__(self, programme: Programme, value: float) -> None:
        import cvxpy as cp

        self.programme = programme
        batch, n = programme.batch_g, len(programme.columns)
        self.size = math.sqrt(value) if programme.measure == "squares" else value
        self.weighted = programme.factor > 0
        self.upper = self._upper()
        rows = [row for row in programme.limits if row.amounts.any()]
        scale = [max(float(np.abs(row.amounts).max()), abs(row.most) / batch, 1e-300) for row in rows]
        self.limits = np.array([row.amounts / by for row, by in zip(rows, scale, strict=True)]).reshape(-1, n)
        self.most = np.array([row.most / batch / by for row, by in zip(rows, scale, strict=True)])
        self._asked, x, over = cp.Parameter(n), cp.Variable(n, nonneg=True), cp.Variable(len(programme.rows))
        residual = cp.Variable(len(programme.rows))
        norm = {"squares": cp.norm2, "absolute": cp.norm1, "worst": cp.norm_inf}[programme.measure]
        self._whole = programme.basis @ x == 1
        self._rows = programme.content @ x == over + residual
        self._held = self.limits @ x <= self.most
        rules: list[Any] = [self._whole, self._rows, self._held, x <= self.upper]
        rules += [over >= programme.low, over <= programme.high]
        rules.append(norm(cp.multiply(programme.factor[self.weighted], residual[self.weighted])) <= self.size)
        self._problem = cp.Problem(cp.Minimize(self._asked @ x), rules)

    def _upper(self) -> FloatArray:
        """Return what can at most be poured of each column (n,), batches: by the shelf, the batch, each row alone."""
        programme = self.programme
        with np.errstate(divide="ignore", invalid="ignore"):
            top = np.where(self.weighted, programme.high + self.size / programme.factor, math.inf)
            by_row = np.where(programme.content > 0, top[:, None] / programme.content, math.inf).min(axis=0)
            by_batch = np.where(programme.basis > 0, 1 / programme.basis, math.inf)
        on_hand = programme.maximum / programme.batch_g
        least: FloatArray = np.minimum.reduce([on_hand, by_row, by_batch, np.full(len(by_row), FAR)])
        return least

    def least(self, weights: FloatArray) -> float:
        """Return a bound, in gram, below which no formula's `weights @ amounts` lies."""
        self._asked.value = weights
        plain = float((np.minimum(weights, 0.0) * self.upper).sum())
        try:
            found = run(self._problem, "CLARABEL")
        except SolverFault:
            found = False
        return (max(plain, self._proven(weights)) if found else plain) * self.programme.batch_g

    def _proven(self, weights: FloatArray) -> float:
        programme = self.programme
        z = np.where(self.weighted, -np.asarray(self._rows.dual_value), 0.0)
        e, g = -float(self._whole.dual_value), np.maximum(np.asarray(self._held.dual_value), 0.0).reshape(-1)
        reduced = weights - e * programme.basis - z @ programme.content + g @ self.limits
        scaled = np.where(self.weighted, z / np.where(self.weighted, programme.factor, 1.0), 0.0)
        bound = e - g @ self.most + (np.minimum(reduced, 0.0) * self.upper).sum()
        bound += np.minimum(z * programme.low, z * programme.high).sum()
        return float(bound - self.size * np.linalg.norm(scaled, DUAL_OF[programme.measure]))

    def spans(self, sums: Sequence[FloatArray]) -> list[tuple[float, float]]:
        """Return the least and the most of each sum of amounts, none below 0, in gram."""
        return [(max(self.least(weights), 0.0), -self.least(-weights)) for weights in sums]
