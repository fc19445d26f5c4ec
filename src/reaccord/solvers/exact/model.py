"""The quadratic of the nodes: every square as it is, or a part `theta` of the share rows as separable terms.

Contents and amounts are never negative, so `y_j^2 >= sum_i content_ji^2 x_i^2` for a share row. A separable
term `d x^2` plus a charge for being used has an exact on/off hull; where it begins it is a line through zero, and
that line is what a free column gets. A column that is ON gets the tangent at its minimum. So only the linear part
of the quadratic changes from node to node.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.feasibility import box, relaxed_rows
from reaccord.solvers.exact.qp import Quadratic
from reaccord.solvers.exact.scaled import ON, IntArray, Scaled, State


@dataclass(frozen=True)
class Model:
    """How a node's squares are stated.

    theta : (K,)
        The part of each share row that is stated as separable terms, 0 on band rows.
    charge : float
        Price of a line, in place of the row that counts lines; used only where there is such a row.
    """

    scaled: Scaled
    theta: FloatArray
    charge: float | None = None

    @staticmethod
    def plain(scaled: Scaled) -> Model:
        """Return the model with every square as it is."""
        return Model(scaled, np.zeros(len(scaled.low)))

    def hessian(self, columns: IntArray) -> FloatArray:
        """Return the quadratic part over some columns; what is split differs from node to node, so no more."""
        if not self.theta.any():
            return self.scaled.hessian[np.ix_(columns, columns)]
        content = self.scaled.content[:, columns]
        return np.asarray(content.T @ ((2.0 - 2.0 * self.theta)[:, None] * content))

    @cached_property
    def separable(self) -> FloatArray:
        """Return the separable terms' weights `d`, shape (n,)."""
        return np.asarray(self.theta @ self.scaled.content**2)

    @cached_property
    def limit_rows(self) -> IntArray:
        """Return the limit rows the quadratic programmes contain."""
        rows = np.arange(len(self.scaled.most))
        return rows if self.charge is None else rows[rows != self.scaled.count_row]

    @cached_property
    def begins(self) -> FloatArray:
        """Return the amount up to which a free column's hull is a line, shape (n,)."""
        scaled = self.scaled
        if self.charge is None:
            return scaled.minimum
        curved = self.separable > 0
        begins = np.sqrt(self._charges / np.where(curved, self.separable, 1.0))
        begins = np.where(self._charges > 0, np.where(curved, begins, np.inf), 0.0)
        return np.clip(begins, scaled.minimum, scaled.maximum)

    @cached_property
    def _charges(self) -> FloatArray:
        charge = 0.0 if self.charge is None else self.charge
        counted = self.scaled.used[self.scaled.count_row] > 0 if self.charge is not None else False
        return np.where(counted, charge, np.zeros(len(self.scaled.basis)))

    @cached_property
    def _free_slopes(self) -> FloatArray:
        begins = self.begins
        with np.errstate(divide="ignore", invalid="ignore"):
            slopes = np.where(begins > 0, self.separable * begins + self._charges / begins, 0.0)
        return np.asarray(np.where(self.scaled.maximum > 0, slopes, 0.0))

    def slopes(self, state: State) -> FloatArray:
        """Return the slope of each column's separable term and charge, shape (n,)."""
        return np.where(state == ON, 2.0 * self.separable * self.scaled.minimum, self._free_slopes)

    @cached_property
    def _linear(self) -> FloatArray:
        share = np.where(self.scaled.banded, 0.0, self.scaled.low)
        return np.asarray(-2.0 * share @ self.scaled.content)

    def restricted(self, state: State, columns: IntArray, loosened: float = 0.0) -> Quadratic:
        """Return the node's quadratic programme over some columns; a band row brings a variable of its own."""
        scaled = self.scaled
        banded = np.flatnonzero(scaled.banded)
        bands = len(banded)
        hessian = self.hessian(columns)
        if bands:
            across = -2.0 * scaled.content[np.ix_(banded, columns)].T
            hessian = np.block([[hessian, across], [across.T, 2.0 * np.eye(bands)]])
        rows, most = relaxed_rows(scaled, state)
        rows, most = rows[self.limit_rows], most[self.limit_rows]
        low, high = box(scaled, state)
        linear = (self._linear + self.slopes(state))[columns]
        return Quadratic(
            hessian=hessian,
            linear=np.concatenate([linear, np.zeros(bands)]),
            rows=np.hstack([np.vstack([scaled.basis, rows])[:, columns], np.zeros((1 + len(rows), bands))]),
            lower=np.concatenate([low[columns], scaled.low[banded], [1.0], np.full(len(rows), -np.inf)]),
            upper=np.concatenate([high[columns], scaled.high[banded], [1.0], most + loosened]),
        )

    def value(self, state: State, quadratic: Quadratic, x: FloatArray) -> float:
        """Return the relaxation's own value at a solution of `quadratic`, the charges of lines included."""
        scaled = self.scaled
        share = np.where(scaled.banded, 0.0, scaled.low)
        offset = float(share @ share) + scaled.constant
        offset -= float((self.separable * scaled.minimum**2)[state == ON].sum())
        if self.charge is not None and scaled.count_row is not None:
            places = scaled.most[scaled.count_row] / scaled.used[scaled.count_row].max()
            offset -= self.charge * places - float(self._charges[state == ON].sum())
        return float(x @ (0.5 * quadratic.hessian @ x + quadratic.linear)) + offset
