"""A programme over a few of its columns: what it comes to there, without a search."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reaccord.answer.amounts import with_helpers
from reaccord.contract import FloatArray, Programme
from reaccord.solvers.on_columns import closest_on
from reaccord.solvers.switching import BoolArray


class OnLines:
    """A programme over the columns of some stocks, each of which is poured."""

    def __init__(self, programme: Programme, on: BoolArray) -> None:
        """Take the programme and its stocks (n,) that are poured; grams made of a dilution follow from them."""
        self._kept, self._count = np.flatnonzero(with_helpers(programme, on.copy())), len(on)
        self._few = programme.only(self._kept)

    def poured(self, *, factor: FloatArray | None = None, high: FloatArray | None = None) -> FloatArray | None:
        """Return the closest amounts (n,), with other `factor` or `high` of rows (K,); None if there are none."""
        few = self._few
        few = replace(few, factor=few.factor if factor is None else factor, high=few.high if high is None else high)
        found = closest_on(few)(~few.helpers)
        if found is None:
            return None
        amounts = np.zeros(self._count)
        amounts[self._kept] = found
        return amounts
