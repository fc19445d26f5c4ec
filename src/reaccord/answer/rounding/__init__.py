"""Amounts on the balance's grid, with every limit intact.

`grid` judges formulas on the grid, many at once; `steps` searches on the stocks of one formula (`side_by_side`: of
several); `enumerated` lists all that could be closer, those in an `ellipsoid`, and so proves it where they are few;
`wider` leaves stocks out, takes others in and makes a little more or less of the batch, a search; `bound` says what
none on the grid comes below, whatever its stocks; `off_grid` finds stocks that can make no named amount.
"""

from reaccord.answer.rounding.bound import bound_on_grid
from reaccord.answer.rounding.grid import value_reached
from reaccord.answer.rounding.off_grid import without_off_grid
from reaccord.answer.rounding.steps import proven_on_grid, quickly_rounded, round_amounts
from reaccord.answer.rounding.wider import closest_on_grid

__all__ = [
    "bound_on_grid",
    "closest_on_grid",
    "proven_on_grid",
    "quickly_rounded",
    "round_amounts",
    "value_reached",
    "without_off_grid",
]
