"""Amounts on the balance's grid: as close as the optimum nearly everywhere, with every limit intact.

A local search over steps of one line or several at once, on the deviation that divides by the basis really
reached. Where it cannot mend a limit, a small integer programme finds amounts that hold all of them.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations, product

import numpy as np

from reaccord.contract import FloatArray, Programme
from reaccord.programme import helper_columns
from reaccord.solvers.possible import nearest_on_grid

HOLDS = 1e-10
"""Relative; a limit counts as held in the search only with no more than floating-point noise over it."""
MOST_ROUNDS = 200
TOGETHER = ((5, 5, 2), (7, 7, 1), (14, 3, 1), (60, 2, 1), (math.inf, 1, 1))
"""Up to so many lines, so many are moved at once, by so many steps at most: short formulas are searched widely."""
MARGINS = (0.0, 1e-6)
"""Relative; how far inside its limits a repair is looked for, first and after HiGHS let one through."""
SLIGHT = 1e-12
"""A relative gain below this is no reason to move on."""


def round_amounts(programme: Programme, amounts: FloatArray, steps: FloatArray) -> FloatArray | None:
    """Return amounts that are whole multiples of `steps` (gram, 0: free) and hold every limit.

    The stocks used stay the same. The basis may miss the batch by one step per line at most.

    Parameters
    ----------
    programme
        The programme whose limits must hold, shapes (n,) and (K, n).
    amounts, steps
        Gram, shape (n,).

    Returns
    -------
    amounts : (n,) or None
        None if no amounts on the grid hold all limits with these stocks.
    """
    if not (steps[amounts > 0] > 0).any():
        return amounts
    problem = _Rounding(programme, amounts, steps)
    found = problem.improve(problem.start())
    for margin in MARGINS:
        if problem.holds(found):
            return found
        repaired = nearest_on_grid(programme, amounts, steps, helper_columns(programme), margin)
        if repaired is None:
            return None
        found = problem.improve(repaired)
    return found if problem.holds(found) else None


class _Rounding:
    """The search on one support; helper columns follow from the others, stocks without a grid stay."""

    def __init__(self, programme: Programme, amounts: FloatArray, steps: FloatArray) -> None:
        self.programme = programme
        self.amounts = amounts
        self.steps = steps
        self.moving = np.flatnonzero((amounts > 0) & (steps > 0))
        self.allowed = float(steps[self.moving].sum())
        self.rows = np.array([row.amounts for row in programme.limits]).reshape(-1, len(amounts))
        used = (amounts > 0).astype(float)
        fixed = np.array([row.used @ used for row in programme.limits])
        self.most = np.array([row.most for row in programme.limits]) - fixed
        self.helpers = np.flatnonzero((amounts > 0) & helper_columns(programme))
        size = np.abs(self.rows) @ amounts + np.abs(self.most)
        self.size = np.where(size > 0, size, 1.0)

    def start(self) -> FloatArray:
        """Return the nearest grid point inside each stock's own limits."""
        rounded = self.amounts.copy()
        i = self.moving
        counts = np.round(self.amounts[i] / self.steps[i])
        least = np.ceil(self.programme.minimum[i] / self.steps[i] - 1e-9)
        most = np.floor(self.programme.maximum[i] / self.steps[i] + 1e-9)
        rounded[i] = np.clip(counts, np.maximum(least, 1), most) * self.steps[i]
        return rounded

    def follow(self, amounts: FloatArray) -> FloatArray:
        """Return formulas, shape (n, m), with each helper column at the least its rows ask for."""
        if not len(self.helpers):
            return amounts
        followed = amounts.copy()
        for column in self.helpers:
            rows = np.flatnonzero(self.rows[:, column] == -1.0)
            followed[column] = 0.0
            needs = self.rows[rows] @ followed - self.most[rows, None]
            followed[column] = np.maximum(needs.max(axis=0), 0.0)
        return followed

    def holds(self, amounts: FloatArray) -> bool:
        """Whether a formula (n,) holds the batch and every limit."""
        return float(self.excess(amounts[:, None])[0]) <= 0.0

    def excess(self, amounts: FloatArray) -> FloatArray:
        """Return the summed relative violation of all limits and of the batch for formulas (n, m)."""
        followed = self.follow(amounts)
        over = (self.rows @ followed - self.most[:, None]) / self.size[:, None] - HOLDS
        batch = self.programme.batch_g
        missed = np.abs(self.programme.basis @ amounts - batch) - self.allowed * (1 + 1e-9) - HOLDS * batch
        total: FloatArray = np.maximum(over, 0).sum(axis=0) + np.maximum(missed, 0) / batch
        return total

    def value(self, amounts: FloatArray) -> FloatArray:
        """Return the deviation of each column of `amounts`, (n, m), on the basis it reaches."""
        p = self.programme
        achieved = p.content @ amounts / (p.basis @ amounts)
        distance = achieved - np.clip(achieved, p.low[:, None], p.high[:, None])
        scaled = p.factor[:, None] * distance
        result: FloatArray
        if p.measure == "squares":
            result = (scaled**2).sum(axis=0)
        elif p.measure == "absolute":
            result = np.abs(scaled).sum(axis=0)
        else:
            result = np.abs(scaled).max(axis=0)
        return result

    def improve(self, amounts: FloatArray) -> FloatArray:
        """Move a step of a few lines at once while that mends a limit or brings it closer."""
        here, moves = amounts, self._moves()
        for _ in range(MOST_ROUNDS):
            better = self._best(here, moves)
            if better is None:
                break
            here = better
        clean = here.copy()
        i = self.moving
        clean[i] = np.round(here[i] / self.steps[i]) * self.steps[i]
        return self.follow(clean[:, None])[:, 0]

    def _moves(self) -> FloatArray:
        """Return the moves as columns (n, m): a step or two up or down of so many lines at once."""
        lines = len(self.moving)
        together, far = next((count, far) for most, count, far in TOGETHER if lines <= most)
        counts = [step for step in range(-far, far + 1) if step]
        signs = [
            (chosen, up)
            for count in range(1, min(together, lines) + 1)
            for chosen in combinations(range(lines), count)
            for up in product(counts, repeat=count)
        ]
        moves = np.zeros((len(self.steps), len(signs)))
        for column, (chosen, up) in enumerate(signs):
            moved = self.moving[list(chosen)]
            moves[moved, column] = self.steps[moved] * up
        return moves

    def _best(self, here: FloatArray, moves: FloatArray) -> FloatArray | None:
        """Return the best formula one move away, or None if none is better."""
        i = self.moving
        there = here[:, None] + moves
        slack = 1e-9 * self.steps[i, None]
        inside = (there[i] >= np.maximum(self.programme.minimum, self.steps)[i, None] - slack).all(axis=0)
        inside &= (there[i] <= self.programme.maximum[i, None] + slack).all(axis=0)
        there = there[:, inside]
        if not there.shape[1]:
            return None
        before = float(self.excess(here[:, None])[0]), float(self.value(here[:, None])[0])
        excess, value = self.excess(there), self.value(there)
        best = int(np.lexsort((value, excess))[0])
        gained = excess[best] < before[0] * (1 - 1e-9) or (
            excess[best] <= before[0] and value[best] < before[1] * (1 - SLIGHT)
        )
        return there[:, best] if gained else None


def on_reached_basis(programme: Programme, amounts: FloatArray) -> Programme:
    """Return the programme whose shares divide by the basis that `amounts` reach."""
    return replace(programme, batch_g=float(programme.basis @ amounts))
