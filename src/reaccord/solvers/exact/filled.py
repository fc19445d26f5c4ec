"""What columns that must be poured fill of each row for certain, and what that adds to the hull of the rest.

Of a row's content `s`, let the columns that are on give `base_i <= content_i minimum_i` each, together `base <= high`.
Then `s = base + sum_i (u_i - base_i)`, and what the row costs is a function of parts that are not negative again: the
inequality of `separable` holds for `u_i - base_i` with the band and the level moved down by `base`, where the level is
no less than `base`. So what is on leaves less of the row to share, and the switches of the rest have to be more on.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.scaled import ON, Scaled, State


class Filled(NamedTuple):
    """The certain content of each row, (K,), and of it what each of `scaled.entries` gives, (E,)."""

    rows: FloatArray
    parts: FloatArray

    @staticmethod
    def of(scaled: Scaled, state: State) -> Filled:
        """Return what a state fills; nothing where the programme's amounts were never narrowed."""
        row, column, entry = scaled.entries
        if not scaled.narrowed:
            return Filled(np.zeros(len(scaled.low)), np.zeros(len(row)))
        parts = np.where(state[column] == ON, entry * scaled.minimum[column], 0.0)
        total = np.bincount(row, parts, minlength=len(scaled.low)).astype(float)
        within = np.minimum(1.0, scaled.high / np.where(total > 0, total, 1.0))
        return Filled(total * within, parts * within[row])

    def band(self, scaled: Scaled) -> tuple[FloatArray, FloatArray]:
        """Return the ends of the rows' bands as seen by what is not certain, each (K,)."""
        return np.maximum(scaled.low - self.rows, 0.0), np.maximum(scaled.high - self.rows, 0.0)
