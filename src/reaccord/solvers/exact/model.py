"""The quadratic of the nodes: every square as it is, a band row with a variable inside its band."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.feasibility import box, relaxed_rows
from reaccord.solvers.exact.qp import Quadratic
from reaccord.solvers.exact.scaled import IntArray, Scaled, State


@dataclass(frozen=True)
class Model:
    """The nodes' quadratic programmes over one scaled programme."""

    scaled: Scaled

    @cached_property
    def _linear(self) -> FloatArray:
        share = np.where(self.scaled.banded, 0.0, self.scaled.low)
        return self.scaled.products.weighed(-2.0 * share)

    @cached_property
    def _bands(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return what columns and bands share in the Hessian, (n, B), and the lower and upper ends beside columns'."""
        scaled, banded = self.scaled, self.scaled.banded
        lower = np.concatenate([scaled.low[banded], [1.0], np.full(len(scaled.most), -np.inf)])
        return -2.0 * scaled.content[banded].T, lower, np.append(scaled.high[banded], 1.0)

    def restricted(self, state: State, columns: IntArray, loosened: float = 0.0) -> Quadratic:
        """Return the node's quadratic programme over some columns; a band row brings a variable of its own."""
        scaled, (across, lower, upper) = self.scaled, self._bands
        hessian, bands = scaled.products.hessian(columns), across.shape[1]
        if bands:
            hessian = _bordered(hessian, across[columns], 2.0)
        rows, most = relaxed_rows(scaled, state, columns)
        if loosened:
            most = most + np.where(rows.any(axis=1) | (most < 0), loosened, 0.0)  # a row of nothing is kept as it is
        low, high = box(scaled, state)
        return Quadratic(
            hessian=hessian,
            linear=np.concatenate([self._linear[columns], np.zeros(bands)]),
            rows=_stacked(scaled.basis[columns], rows, bands),
            lower=np.concatenate([low[columns], lower]),
            upper=np.concatenate([high[columns], upper, most]),
        )

    def value(self, quadratic: Quadratic, x: FloatArray) -> float:
        """Return the relaxation's own value at a solution of `quadratic`."""
        scaled = self.scaled
        share = np.where(scaled.banded, 0.0, scaled.low)
        offset = float(share @ share) + scaled.constant
        return float(x @ (0.5 * quadratic.hessian @ x + quadratic.linear)) + offset


def _bordered(square: FloatArray, across: FloatArray, diagonal: float) -> FloatArray:
    """Return a symmetric matrix (n, n) with m more columns, `across` (n, m) and a diagonal among themselves."""
    n, more = across.shape
    whole = np.zeros((n + more, n + more))
    whole[:n, :n], whole[:n, n:], whole[n:, :n] = square, across, across.T
    whole[n:, n:].flat[:: more + 1] = diagonal
    return whole


def _stacked(first: FloatArray, rows: FloatArray, more: int) -> FloatArray:
    """Return a row (n,) upon others (m, n), with so many columns of zeros behind them."""
    whole = np.zeros((1 + len(rows), len(first) + more))
    whole[0, : len(first)], whole[1:, : len(first)] = first, rows
    return whole
