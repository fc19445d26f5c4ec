"""The limit rows as something to multiply with: each names a few columns, and with dilutions there are thousands."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import FloatArray

FULL = 0.1
"""Part of the coefficients that are not 0 from which on products with all of them are faster."""

BoolArray = NDArray[np.bool_]


class Limits:
    """The coefficients of L limit rows over n columns that are not 0, row by row.

    row, column, amount, use : (E,)
        Where each stands, what a gram adds and what being used adds.
    counts
        Whether being used adds anything anywhere.
    """

    def __init__(self, amounts: FloatArray, used: FloatArray) -> None:
        self._count, self._size = amounts.shape
        self.row, self.column = np.nonzero((amounts != 0) | (used != 0))
        self.amount, self.use = amounts[self.row, self.column], used[self.row, self.column]
        self._rows, self._starts = np.unique(self.row, return_index=True)
        self.counts = bool((self.use > 0).any())
        self._whole = (amounts, used) if len(self.row) >= FULL * amounts.size else None

    def summed(self, entries: FloatArray) -> FloatArray:
        """Return the sum of numbers that belong to the entries, by row; shape (L,)."""
        sums = np.zeros(self._count)
        if len(entries):
            sums[self._rows] = np.add.reduceat(entries, self._starts)
        return sums

    def reached(self, amounts: FloatArray) -> FloatArray:
        """Return what amounts (n,) add to each row, shape (L,)."""
        if self._whole is not None:
            return np.asarray(self._whole[0] @ amounts)
        return self.summed(self.amount * amounts[self.column])

    def switched(self, used: BoolArray) -> FloatArray:
        """Return what columns used (n,) add to each row beside their amounts, shape (L,)."""
        if self._whole is not None:
            return np.asarray(self._whole[1] @ used)
        return self.summed(self.use * used[self.column])

    def priced(self, duals: FloatArray) -> FloatArray:
        """Return `duals @ amounts`, shape (n,)."""
        if self._whole is not None:
            return np.asarray(duals @ self._whole[0])
        return np.bincount(self.column, duals[self.row] * self.amount, minlength=self._size).astype(float)

    def charged(self, duals: FloatArray) -> FloatArray:
        """Return `duals @ used`, shape (n,)."""
        if self._whole is not None:
            return np.asarray(duals @ self._whole[1])
        return np.bincount(self.column, duals[self.row] * self.use, minlength=self._size).astype(float)

    def columns_of(self, chosen: BoolArray) -> BoolArray:
        """Return which columns have an entry among those chosen (E,), shape (n,)."""
        found = np.zeros(self._size, dtype=bool)
        found[self.column[chosen]] = True
        return found

    def called_for(self, poured: BoolArray, helpers: BoolArray, most: FloatArray) -> BoolArray:
        """Return the columns poured (n,) and those helpers that give room in a row which needs it, shape (n,).

        `most` (L,) is what is left of each row. A helper left out is no loss: nothing but its rows' room changes.
        """
        while True:
            adds = poured[self.column] & ((self.amount > 0) | (self.use > 0))
            needy = (most < 0) | (self.summed(adds.astype(float)) > 0)
            further = poured | (helpers & self.columns_of(needy[self.row] & (self.amount < 0)))
            if np.array_equal(further, poured):
                return poured
            poured = further
