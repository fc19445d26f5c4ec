"""The least ceiling of the cost under which a formula is no farther from the target than an empty vial."""

from __future__ import annotations

import math

from reaccord.answer.fitted import Fit
from reaccord.answer.judge import empty_vial
from reaccord.contract import Budget
from reaccord.questions.axis import Cost
from reaccord.questions.epsilon_constraint import Ceilings, allowed, least_within, relative_gap
from reaccord.solvers.decide import decide

SECONDS = 1.0
"""For both questions together: the answer they belong to is there already."""
GAP = 1e-3


def least_ceiling(fit: Fit) -> float | None:
    """Return the least cost per kg at which one is; infinite if at none, None where that is not proven in time."""
    most, budget = empty_vial(fit.study), Budget(GAP, SECONDS).running()
    ceilings = Ceilings(fit.study, Cost())
    start = decide(ceilings.free, most, budget.rest())
    if start.amounts is None or start.value > allowed(most):
        return math.inf if start.bound > allowed(most) else None
    least = least_within(ceilings, most, start.amounts, budget)
    return least.quantity if relative_gap(least.quantity, least.bound) <= GAP else None
