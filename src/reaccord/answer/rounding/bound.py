"""How close any formula on the grid could be, whatever its stocks: a bound on the value after rounding.

A formula `x` on the grid makes a basis `N` that misses the batch `G` by a step a line at most. Poured in proportion,
`G x / N` makes the batch and is as close; where `x` holds a limit, `G x / N` holds it as loosened for the least and the
most that `G / N` can be. So the closest formula inside limits so loosened is no less close than any on the grid.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reaccord.contract import Budget, FloatArray, LimitRow, Programme
from reaccord.solvers.choose import solve

NOISE = 1e-9
"""Relative; what the search on the grid lets a limit or the batch be passed by."""


def bound_on_grid(programme: Programme, budget: Budget) -> float:
    """Return a deviation that no formula on the grid comes below; 0 where nothing is proven in time.

    Parameters
    ----------
    programme
        The programme whose limits hold on the grid; without any steps its own bound is returned.
    budget
        As for `solve`; a longer search may prove more.
    """
    loosened = loosened_for_grid(programme)
    return 0.0 if loosened is None else max(0.0, solve(loosened, budget).bound)


def loosened_for_grid(programme: Programme) -> Programme | None:
    """Return the programme whose formulas of exactly the batch are no further than any on the grid.

    None where the steps are so coarse that the batch may be missed altogether.
    """
    missed = _missed(programme) * (1 + NOISE)
    if missed >= programme.batch_g:
        return None
    least, most = (programme.batch_g / (programme.batch_g + sign * missed) for sign in (1, -1))
    return replace(
        programme,
        minimum=programme.minimum * least,
        maximum=programme.maximum * most,
        limits=tuple(_loosened(row, least, most) for row in programme.limits),
    )


def _missed(programme: Programme) -> float:
    """Return the most that a formula's basis may miss the batch by: its lines' steps, the coarsest first."""
    steps = np.where((programme.basis > 0) & (programme.maximum > 0), programme.step, 0.0)
    counted = [row.most for row in programme.limits if not row.amounts.any() and (row.used[steps > 0] >= 1).all()]
    lines = int(min([*counted, len(steps)]))
    return float(np.sort(steps)[::-1][: max(lines, 0)].sum())


def _loosened(row: LimitRow, least: float, most: float) -> LimitRow:
    """Return a limit as a formula keeps it that is poured in proportion, by a factor from `least` to `most`."""
    if not row.amounts.any():
        return row
    end = row.most * (most if row.most > 0 else least)
    used: FloatArray = row.used * least
    return replace(row, used=used, most=end)
