"""Amounts on the balance's grid: as close as the optimum nearly everywhere, with every limit intact.

A local search over single steps and pairs of steps, on the deviation that divides by the basis really
reached. Where it cannot mend a limit, a small integer programme finds amounts that hold all of them.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reaccord.contract import FloatArray, Programme
from reaccord.solvers.possible import nearest_on_grid

HOLDS = 1e-10
"""Relative; a limit counts as held in the search only with no more than floating-point noise over it."""
MOST_ROUNDS = 200
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
    if not steps.any():
        return amounts
    problem = _Rounding(programme, amounts, steps)
    found = problem.improve(problem.start())
    if problem.excess(found) > 0:
        repaired = nearest_on_grid(programme, amounts, steps)
        if repaired is None:
            return None
        found = problem.improve(repaired)
    return found


class _Rounding:
    """The search on one support; helper columns (grid 0) follow from the others."""

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
        self.helpers = np.flatnonzero((amounts > 0) & (steps == 0))
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
        return self.follow(rounded)

    def follow(self, amounts: FloatArray) -> FloatArray:
        """Set each helper column to the least its rows ask for."""
        for column in self.helpers:
            rows = np.flatnonzero(self.rows[:, column] == -1.0)
            if len(rows):
                amounts[column] = 0.0
                needs = self.rows[rows] @ amounts - self.most[rows]
                amounts[column] = max(float(needs.max()), 0.0)
        return amounts

    def excess(self, amounts: FloatArray) -> float:
        """Return the summed relative violation of all limits and of the batch."""
        return float(self._excess(amounts[:, None], self.follow(amounts.copy())[:, None])[0])

    def _excess(self, amounts: FloatArray, followed: FloatArray) -> FloatArray:
        over = (self.rows @ followed - self.most[:, None]) / self.size[:, None] - HOLDS
        missed = np.abs(self.programme.basis @ amounts - self.programme.batch_g) - self.allowed * (1 + 1e-9)
        total: FloatArray = np.maximum(over, 0).sum(axis=0) + np.maximum(missed, 0) / self.programme.batch_g
        return total

    def value(self, amounts: FloatArray) -> FloatArray:
        """Return the deviation of each column of `amounts`, (n, m), on the basis it reaches."""
        p = self.programme
        achieved = p.content @ amounts / (p.basis @ amounts)
        distance = achieved - np.clip(achieved, p.low[:, None], p.high[:, None])
        scaled = p.factor[:, None] * distance
        if p.measure == "squares":
            result: FloatArray = (scaled**2).sum(axis=0)
            return result
        return np.abs(scaled).sum(axis=0) if p.measure == "absolute" else np.abs(scaled).max(axis=0)

    def improve(self, amounts: FloatArray) -> FloatArray:
        """Move by single steps and pairs of steps while that mends a limit or brings it closer."""
        here, moves = amounts, self._moves()
        for _ in range(MOST_ROUNDS):
            score = (self.excess(here), float(self.value(here[:, None])[0]))
            better = self._best(here, moves, score)
            if better is None:
                break
            here = better
        clean = here.copy()
        i = self.moving
        clean[i] = np.round(here[i] / self.steps[i]) * self.steps[i]
        return self.follow(clean)

    def _moves(self) -> FloatArray:
        """Return the moves as columns (n, m): one step of one line, or of two lines at once."""
        singles = []
        for i in self.moving:
            for sign in (1.0, -1.0):
                move = np.zeros(len(self.steps))
                move[i] = sign * self.steps[i]
                singles.append(move)
        pairs = [a + b for k, a in enumerate(singles) for b in singles[k + 1 :] if np.any(a + b)]
        if len(self.moving) > 60:
            pairs = []
        return np.array(singles + pairs).T.reshape(len(self.steps), -1)

    def _best(self, here: FloatArray, moves: FloatArray, score: tuple[float, float]) -> FloatArray | None:
        i = self.moving
        there = here[:, None] + moves
        slack = 1e-9 * self.steps[i, None]
        inside = (there[i] >= np.maximum(self.programme.minimum, self.steps)[i, None] - slack).all(axis=0)
        inside &= (there[i] <= self.programme.maximum[i, None] + slack).all(axis=0)
        there = there[:, inside]
        if not there.shape[1]:
            return None
        followed = there
        if len(self.helpers):
            followed = np.stack([self.follow(column) for column in there.T.copy()], axis=1)
        excess = self._excess(there, followed)
        value = self.value(there)
        best = int(np.lexsort((value, excess))[0])
        gained = excess[best] < score[0] * (1 - 1e-9) or (
            excess[best] <= score[0] and value[best] < score[1] * (1 - SLIGHT)
        )
        return there[:, best] if gained else None


def on_reached_basis(programme: Programme, amounts: FloatArray) -> Programme:
    """Return the programme whose shares divide by the basis that `amounts` reach."""
    return replace(programme, batch_g=float(programme.basis @ amounts))
