"""The search on the stocks of one formula: steps of one line or several at once.

Where it cannot mend a limit, a small integer programme finds amounts that hold all of them.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import combinations, product

import numpy as np

from reaccord.answer.rounding.enumerated import closest_enumerated
from reaccord.answer.rounding.grid import Columns, Grid, Rank, better
from reaccord.contract import FloatArray, Programme
from reaccord.solvers.on_columns import closest_on
from reaccord.solvers.possible import nearest_on_grid

MOST_ROUNDS = 200
TOGETHER = ((5, 5, 2), (7, 7, 1), (14, 3, 1), (60, 2, 1), (math.inf, 1, 1))
"""Up to so many lines, so many are moved at once, by so many steps at most: short formulas are searched widely."""
MOST_TOGETHER = max(together for _, together, _ in TOGETHER)
IN_PAIRS = 14
"""Lines up to which a quick search moves two at once."""
WIDEST = 1 / 8
"""Of the largest line: the widest move of a quick search."""
MARGINS = (0.0, 1e-6)
"""Relative; how far inside its limits a repair is looked for, first and after HiGHS let one through."""


def round_amounts(programme: Programme, amounts: FloatArray, *, far: bool = False) -> FloatArray | None:
    """Return amounts that are whole multiples of the programme's steps (0: free) and hold every limit.

    The stocks used stay the same. The basis may miss the batch by one step at most for each
    line that holds some of it.

    Parameters
    ----------
    programme
        The programme whose limits must hold, shapes (n,) and (K, n).
    amounts
        Gram, shape (n,).
    far
        They make another batch: long ways are gone in large steps.

    Returns
    -------
    amounts : (n,) or None
        None if no amounts on the grid hold all limits with these stocks.
    """
    if not (programme.step[amounts > 0] > 0).any():
        return amounts
    grid = Grid(programme, amounts, np.flatnonzero((amounts > 0) & ~programme.helpers))
    before = grid.narrowed(amounts)
    found = _closest(grid, before, nearest(grid, before), far=far)
    for margin in MARGINS:
        if grid.rank(found)[0] <= 0:
            return grid.whole(found)
        repaired = nearest_on_grid(programme, amounts, margin)
        if repaired is None:
            return None
        found = _closest(grid, before, grid.narrowed(repaired), far=far)
    return grid.whole(found) if grid.rank(found)[0] <= 0 else None


def quickly_rounded(programme: Programme, amounts: FloatArray) -> FloatArray | None:
    """Return amounts as `round_amounts` does, by single steps alone: in some milliseconds, or None."""
    grid = Grid(programme, amounts, np.flatnonzero((amounts > 0) & ~programme.helpers))
    found = quickly_improved(grid, nearest(grid, grid.narrowed(amounts)))
    return grid.whole(found) if grid.rank(found)[0] <= 0 else None


def proven_on_grid(programme: Programme, rounded: FloatArray) -> bool:
    """Tell whether no formula on the grid with the stocks of this one (n,) is closer than it, proven."""
    on = (rounded > 0) & ~programme.helpers
    before = closest_on(programme)(on)
    if before is None or not on.any():
        return False
    grid = Grid(programme, rounded, np.flatnonzero(on))
    found = grid.narrowed(rounded)
    if grid.rank(found)[0] > 0:
        return False
    closest, proven = closest_enumerated(grid, grid.narrowed(before), found)
    return proven and not better(grid.rank(closest), grid.rank(found))


def _closest(grid: Grid, before: FloatArray, rounded: FloatArray, *, far: bool) -> FloatArray:
    """Return the closest formula (m,) that is found from one rounded: proven the closest where that is quick."""
    quick = quickly_improved(grid, rounded) if far or grid.measure == "squares" else rounded
    if grid.rank(quick)[0] <= 0:
        quick, proven = closest_enumerated(grid, before, quick)
        if proven:
            return quick
    slowly = improved(grid, quick if far else rounded)
    return slowly if better(grid.rank(slowly), grid.rank(quick)) else grid.cleaned(quick)


def nearest(grid: Grid, amounts: FloatArray) -> FloatArray:
    """Return the nearest grid point, amounts (m,), inside the ends of each stock that is used."""
    rounded = amounts.copy()
    i = np.flatnonzero((amounts > 0) & (grid.steps > 0))
    counts = np.round(amounts[i] / grid.steps[i])
    least = np.ceil(grid.least[i] / grid.steps[i] - 1e-9)
    most = np.floor(grid.maximum[i] / grid.steps[i] + 1e-9)
    rounded[i] = np.clip(counts, least, most) * grid.steps[i]
    return rounded


def improved(grid: Grid, amounts: FloatArray) -> FloatArray:
    """Move a step of a few lines of a formula (m,) at once while that mends a limit or brings it closer."""
    return _improved(grid, amounts, MOST_TOGETHER, (1,))


def quickly_improved(grid: Grid, amounts: FloatArray) -> FloatArray:
    """Move one line or two of a formula (m,) at once, by many steps first and by single ones in the end."""
    counts = amounts / np.where(grid.steps > 0, grid.steps, np.inf)
    doublings = max(0, int(math.log2(max(float(counts.max(initial=0.0)) * WIDEST, 1.0))))
    together = 2 if int((amounts > 0).sum()) <= IN_PAIRS else 1
    return _improved(grid, amounts, together, tuple(2**k for k in range(doublings, -1, -1)))


def _improved(grid: Grid, amounts: FloatArray, most_together: int, scales: tuple[int, ...]) -> FloatArray:
    moving = np.flatnonzero((amounts > 0) & (grid.steps > 0))
    moves = _Moves(grid, moving, _pattern(len(moving), most_together))
    here, at = amounts.copy(), grid.rank(amounts)
    for scale in scales:
        for _ in range(MOST_ROUNDS):
            there = moves.best(here, scale)
            if there is None or not better(there[1], at):
                break
            here, at = there
    return grid.cleaned(here)


class _Moves:
    """All moves of a pattern, and what they add to the totals wherever they start."""

    def __init__(self, grid: Grid, moving: Columns, pattern: FloatArray) -> None:
        self.grid, self.moving = grid, moving
        self.grams = grid.steps[moving, None] * pattern
        self.added = grid.per_gram[:, moving] @ self.grams
        self.slack = 1e-9 * grid.steps[moving, None]
        self._room = np.empty_like(self.added)
        self._touched = np.flatnonzero(grid.per_made.any(axis=1))

    def best(self, here: FloatArray, scale: int) -> tuple[FloatArray, Rank] | None:
        """Return the best formula (m,) so many times a move away and its rank, or None if there is nowhere to go."""
        grid, moving = self.grid, self.moving
        there = here[moving, None] + scale * self.grams
        inside = (there >= grid.least[moving, None] - self.slack) & (there <= grid.maximum[moving, None] + self.slack)
        kept = inside.all(axis=0)
        if not kept.any():
            return None
        totals = self._totals(here, there, scale)
        excess = np.where(kept, grid.excess(totals), np.inf)
        least = np.flatnonzero(excess == excess.min())
        value = grid.value(totals.take(least, axis=1))
        nearest = int(np.argmin(value))
        found = here.copy()
        found[moving] = there[:, least[nearest]]
        return found, (float(excess[least[nearest]]), float(value[nearest]))

    def _totals(self, here: FloatArray, there: FloatArray, scale: int) -> FloatArray:
        """Return the totals of all moves, in the same place every time: a megabyte anew takes longer than the sums."""
        grid, totals = self.grid, self._room
        np.multiply(self.added, scale, out=totals)
        totals += grid.totals(here[:, None])
        if len(grid.made):
            formulas = np.repeat(here[:, None], totals.shape[1], axis=1)
            formulas[self.moving] = there
            more = grid.made_g(formulas) - grid.made_g(here[:, None])
            totals[self._touched] += grid.per_made[np.ix_(self._touched, grid.made)] @ more
        return totals


@lru_cache(maxsize=64)
def _pattern(lines: int, most_together: int) -> FloatArray:
    """Return the moves of so many lines in steps (lines, count), so many at once at most."""
    together, far = next((count, far) for most, count, far in TOGETHER if lines <= most)
    together = min(together, lines, most_together)
    far = far if most_together > 2 else 1
    counts = [step for step in range(-far, far + 1) if step]
    signs = [
        (chosen, up)
        for count in range(1, together + 1)
        for chosen in combinations(range(lines), count)
        for up in product(counts, repeat=count)
    ]
    pattern = np.zeros((lines, len(signs)))
    for column, (chosen, up) in enumerate(signs):
        pattern[list(chosen), column] = up
    return pattern
