"""The closest amounts where the columns in use are given, by the door for the measure: milliseconds each."""

from __future__ import annotations

import math
from typing import Protocol

from reaccord.contract import FloatArray, Programme
from reaccord.solvers.switching import BoolArray


class OnColumns(Protocol):
    """Returns the closest amounts (n,) in gram that use exactly the stocks `on` (n,); None if none are `below`."""

    def __call__(self, on: BoolArray, below: float = math.inf) -> FloatArray | None: ...


def closest_on(programme: Programme) -> OnColumns:
    """Return what pours a programme from given columns; grams made of a dilution follow from them."""
    return _squares(programme) if programme.measure == "squares" else _linear(programme)


def _squares(programme: Programme) -> OnColumns:
    from reaccord.solvers.exact.formula import on_columns
    from reaccord.solvers.exact.model import Model
    from reaccord.solvers.exact.scaled import cleaned, scale

    programme = cleaned(programme)
    model = Model(scale(programme))

    def poured(on: BoolArray, below: float = math.inf) -> FloatArray | None:
        found = on_columns(programme, model, on, below)
        return None if found is None else found.amounts

    return poured


def _linear(programme: Programme) -> OnColumns:
    from reaccord.solvers.linear import poured_on
    from reaccord.solvers.linear_model import LinearModel
    from reaccord.solvers.switching import per_batch, spread_out, switches_of

    scaled = per_batch(programme)
    model = LinearModel(scaled, switches_of(scaled))

    def poured(on: BoolArray, below: float = math.inf) -> FloatArray | None:
        on = on.copy()
        for made in programme.made:
            on[made.column] = on[made.stock]
        found = poured_on(model, on)
        if found is None:
            return None
        grams = spread_out(programme, found.kept, found.amounts)
        return grams if programme.value(grams) < below else None

    return poured
