"""Which door a programme goes through."""

from __future__ import annotations

import math

from reaccord.contract import Answer, Budget, Programme


def solve(programme: Programme, budget: Budget) -> Answer:
    """Solve by the door for the programme's measure: squares `exact`, absolute and worst `linear`."""
    if not programme.columns:
        return Answer("infeasible", None, math.inf, math.inf, "none", (), 0.0, 0)
    if programme.measure == "squares":
        from reaccord.solvers import exact

        return exact.solve(programme, budget)
    from reaccord.solvers import linear

    return linear.solve(programme, budget)
