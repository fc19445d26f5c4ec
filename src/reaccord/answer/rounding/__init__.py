"""Amounts on the balance's grid, with every limit intact.

`grid` judges formulas on the grid, many at once; `steps` searches on the stocks of one formula; `wider` leaves stocks
out, takes others in and makes a little more or less of the batch; `off_grid` finds stocks that can make no named
amount. A search, not a proof.
"""

from reaccord.answer.rounding.grid import on_reached_basis
from reaccord.answer.rounding.off_grid import without_off_grid
from reaccord.answer.rounding.steps import round_amounts
from reaccord.answer.rounding.wider import closest_on_grid

__all__ = ["closest_on_grid", "on_reached_basis", "round_amounts", "without_off_grid"]
