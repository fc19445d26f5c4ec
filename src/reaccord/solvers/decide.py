"""Whether a deviation is within reach: a search that ends as soon as it has decided."""

from __future__ import annotations

from reaccord.contract import Answer, Budget, FloatArray, Programme
from reaccord.solvers.choose import solve

NEVER = -1.0
"""No value is allowed: the search goes on until it is proven."""
FINE = 1e-7
"""Relative gap at which a question that decides nothing is given up."""


class _Until:
    """Ends a search once a formula is `allowed` or the bound is above what is `worth` it."""

    def __init__(self, allowed: float, worth: float, budget: Budget) -> None:
        self._allowed, self._worth, self._budget, self._decided = allowed, worth, budget, False

    def stop(self) -> bool:
        return self._decided or self._budget.stop()

    def told(self, value: float, bound: float, nodes: int) -> None:
        if self._budget.progress is not None:
            self._budget.progress(value, bound, nodes)
        self._decided = self._decided or value <= self._allowed or bound > self._worth


def decide(
    programme: Programme,
    most: float,
    budget: Budget,
    start: FloatArray | None = None,
    worth: float | None = None,
    gap: float = FINE,
) -> Answer:
    """Return an answer whose value is at most `most` or whose bound is above it (or `worth`), if time allows.

    It begins from `start` (n,) and from what another search left behind (`budget.warm`). One that is proven within
    `gap` is returned as it is.
    """
    until = _Until(most, most if worth is None else worth, budget)
    return solve(programme, Budget(gap, budget.left(), until.stop, until.told, start, warm=budget.warm))
