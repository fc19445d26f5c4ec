"""A formula that can be weighed, near one that passes a limit least: rounding must not break the others.

Each amount goes to the nearest step. Limits that this breaks are kept by so much more, and the same lines mixed anew.
"""

from __future__ import annotations

import numpy as np

from reaccord.answer.amounts import nearest_steps, with_made
from reaccord.answer.why.dropped import Dropped, Keys
from reaccord.contract import FloatArray, Programme
from reaccord.solvers.possible import BoolArray

TURNS = 6
"""Times that the lines are mixed anew."""


def weighed(asked: Dropped, costs: FloatArray, without: Keys, amounts: FloatArray, batch_g: float) -> FloatArray | None:
    """Return amounts (n,) on the grid that hold every limit but those left out; None where none were found.

    The lines stay those of a formula, so that strengths that go together in it do so on the grid.

    Parameters
    ----------
    asked
        The programme.
    costs
        (n,), a gram's part in what shall be least.
    without
        Limits that may be passed, that of `costs` among them.
    amounts
        Gram (n,), least by `costs`.
    batch_g
        Gram of the batch.
    """
    programme, batches = asked.programme, batch_g / asked.programme.batch_g
    if not programme.step[amounts > 0].any():
        return amounts
    room, mixed = np.zeros(len(programme.limits)), amounts
    for _ in range(TURNS):
        rounded = _nearest(programme, mixed)
        over = asked.over(rounded, without)
        if over is None or abs(float(programme.basis @ rounded) - batch_g) > _allowed(programme, rounded):
            return None
        if not over.any():
            return rounded
        room = np.where(over > 0, np.where(room > 0, asked.rounding(amounts > 0), over), room)
        again = asked.mixed(amounts > 0, costs, without, room, batches)
        if again is None:
            return None
        mixed = again
    return None


def can_be_weighed(asked: Dropped, on: BoolArray, batch_g: float) -> bool:
    """Tell whether a batch of so many gram was found on the grid, of columns that are `on` (n,), every limit held."""
    programme = asked.programme
    amounts = asked.mixed(on, programme.basis, (), np.zeros(len(programme.limits)), batch_g / programme.batch_g)
    return amounts is not None and weighed(asked, programme.basis, (), amounts, batch_g) is not None


def _nearest(programme: Programme, amounts: FloatArray) -> FloatArray:
    """Return amounts (n,) at the nearest step of each, inside its ends; what has no grid stays."""
    least = np.maximum(programme.minimum, programme.step)
    return with_made(programme, nearest_steps(amounts, programme.step, least, programme.maximum))


def _allowed(programme: Programme, rounded: FloatArray) -> float:
    """Return by how much a batch may be missed: a step for each line that brings something of it."""
    return float(programme.step @ ((rounded > 0) & (programme.basis > 0))) + 1e-9 * programme.batch_g
