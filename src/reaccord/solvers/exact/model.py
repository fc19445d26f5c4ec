"""The quadratic of the nodes: every square as it is, or a part `theta` of the share rows as separable terms.

A separable term (see `separable`, level 0) has an exact on/off hull; up to the minimum it is a line through zero, and
that line is what a free column gets. A column that is ON gets the tangent at its minimum. So only the linear part of
the quadratic changes from node to node.
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
    levels : (K,)
        Zeros: what is not separable is bounded by its tangent and hinges (see `separable`); None: by its tangent.
    """

    scaled: Scaled
    theta: FloatArray
    levels: FloatArray | None = None

    @staticmethod
    def plain(scaled: Scaled) -> Model:
        """Return the model with every square as it is, bounded by tangents alone."""
        return Model(scaled, np.zeros(len(scaled.low)))

    def hessian(self, columns: IntArray) -> FloatArray:
        """Return the quadratic part over some columns; what is split differs from node to node, so no more."""
        if not self.theta.any():
            return self.scaled.products.hessian(columns)
        content = self.scaled.content[:, columns]
        return np.asarray(content.T @ ((2.0 - 2.0 * self.theta)[:, None] * content))

    @cached_property
    def separable(self) -> FloatArray:
        """Return the separable terms' weights `d`, shape (n,)."""
        if not self.theta.any():
            return np.zeros(len(self.scaled.basis))
        return np.asarray(self.theta @ self.scaled.content**2)

    def slopes(self, state: State) -> FloatArray:
        """Return the slope of each column's separable term, shape (n,)."""
        return np.where(state == ON, 2.0, 1.0) * self.separable * self.scaled.minimum

    @cached_property
    def _linear(self) -> FloatArray:
        share = np.where(self.scaled.banded, 0.0, self.scaled.low)
        return self.scaled.products.weighed(-2.0 * share)

    def restricted(self, state: State, columns: IntArray, loosened: float = 0.0) -> Quadratic:
        """Return the node's quadratic programme over some columns; a band row brings a variable of its own."""
        scaled = self.scaled
        banded = np.flatnonzero(scaled.banded)
        bands = len(banded)
        hessian = self.hessian(columns)
        if bands:
            across = -2.0 * scaled.content[np.ix_(banded, columns)].T
            hessian = np.block([[hessian, across], [across.T, 2.0 * np.eye(bands)]])
        rows, most = relaxed_rows(scaled, state, columns)
        most = most + np.where(rows.any(axis=1) | (most < 0), loosened, 0.0)  # a row of nothing is kept as it is
        low, high = box(scaled, state)
        linear = (self._linear + self.slopes(state))[columns]
        return Quadratic(
            hessian=hessian,
            linear=np.concatenate([linear, np.zeros(bands)]),
            rows=np.hstack([np.vstack([scaled.basis[columns], rows]), np.zeros((1 + len(rows), bands))]),
            lower=np.concatenate([low[columns], scaled.low[banded], [1.0], np.full(len(rows), -np.inf)]),
            upper=np.concatenate([high[columns], scaled.high[banded], [1.0], most]),
        )

    def value(self, state: State, quadratic: Quadratic, x: FloatArray) -> float:
        """Return the relaxation's own value at a solution of `quadratic`."""
        scaled = self.scaled
        share = np.where(scaled.banded, 0.0, scaled.low)
        offset = float(share @ share) + scaled.constant
        offset -= float((self.separable * scaled.minimum**2)[state == ON].sum())
        return float(x @ (0.5 * quadratic.hessian @ x + quadratic.linear)) + offset
