"""Products with the contents: dense on small shelves, sparse on large ones, where most contents are 0."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray

LARGE = 150_000
"""Entries from which on sparse products are faster, and the squared matrix (n, n) is never formed."""


class Products:
    """The contents (K, n) as something to multiply with."""

    def __init__(self, content: FloatArray) -> None:
        self._content = content
        self._sparse: Any = None
        if content.size > LARGE:
            from scipy import sparse

            self._sparse = sparse.csc_matrix(content)

    def achieved(self, amounts: FloatArray) -> FloatArray:
        """Return `content @ amounts`, shape (K,)."""
        return np.asarray(self._content @ amounts if self._sparse is None else self._sparse @ amounts)

    def weighed(self, rows: FloatArray) -> FloatArray:
        """Return `rows @ content`, shape (n,)."""
        return np.asarray(rows @ self._content if self._sparse is None else self._sparse.T @ rows)

    @cached_property
    def curvature(self) -> FloatArray:
        """Return the diagonal of `2 content' content`, shape (n,)."""
        square = self._content**2 if self._sparse is None else self._sparse.power(2)
        return np.asarray(2.0 * square.sum(axis=0)).ravel()

    def hessian(self, columns: NDArray[np.int_]) -> FloatArray:
        """Return `2 content' content` over some columns, both ways."""
        if self._sparse is None:
            return self._whole[columns[:, None], columns]
        part = self._sparse[:, columns]
        return np.asarray(2.0 * (part.T @ part).toarray())

    def across(self, columns: NDArray[np.int_]) -> FloatArray:
        """Return the rows of `2 content' content` of some columns, shape (len(columns), n)."""
        if self._sparse is None:
            return self._whole[columns]
        return np.asarray(2.0 * (self._sparse[:, columns].T @ self._sparse).toarray())

    @cached_property
    def _whole(self) -> FloatArray:
        return np.asarray(2.0 * self._content.T @ self._content)
