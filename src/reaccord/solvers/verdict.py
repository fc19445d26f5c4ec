"""What becomes of what a solver found: recomputed, verified, and only then said."""

from __future__ import annotations

import math
from dataclasses import dataclass

from reaccord.contract import NEARLY_ZERO, Answer, Budget, FloatArray, Programme, Status, standing
from reaccord.findings import SolverFault

BELIEVED = 1e-7
"""Largest `Programme.excess` of amounts that are believed."""

DOUBT = 1e-7
"""Part of a bound that is not claimed: solvers in floating point keep their rows and duals to about 1e-8."""


@dataclass(frozen=True)
class Found:
    """A solver's word before it is checked.

    `amounts` (n,) in gram or None, `bound` in the programme's measure, `infeasible` when the solver has
    shown that no formula exists.
    """

    solver: str
    libraries: tuple[str, ...]
    amounts: FloatArray | None = None
    bound: float = 0.0
    nodes: int = 0
    infeasible: bool = False


def verdict(programme: Programme, budget: Budget, found: Found) -> Answer:
    """Return the answer for what was found; the budget's clock runs since the call.

    The value is recomputed from the amounts. `DOUBT` is taken off the bound, so a gap under 1e-7 is never called
    proven; a bound above the value is not believed at all. Without a formula the value is infinite; 0 is
    always a true bound, no deviation being negative.

    Raises
    ------
    SolverFault
        The amounts break a limit by more than `BELIEVED`.
    """
    value, bound = math.inf, max(found.bound * (1 - DOUBT), 0.0)
    status: Status = "infeasible" if found.infeasible else "no_answer"
    if found.infeasible:
        bound = math.inf
    elif found.amounts is not None:
        excess = programme.excess(found.amounts)
        if excess > BELIEVED:
            raise SolverFault(f"{found.solver} gave amounts that break a limit by {excess:.1e} of its size")
        value = programme.value(found.amounts)
        if bound > value * (1 + 1e-6) + NEARLY_ZERO:  # proven wrong by a formula: nothing of it is believed
            bound = 0.0
        bound = min(bound, value)
        status = standing(value, bound, budget.gap)
    if budget.progress is not None:
        budget.progress(value, bound, found.nodes)
    return Answer(status, found.amounts, value, bound, found.solver, found.libraries, budget.elapsed(), found.nodes)
