"""The search on the stocks of one formula: steps of one line or several at once.

Where it cannot mend a limit, a small integer programme finds amounts that hold all of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from itertools import combinations, product

import numpy as np

from reaccord.answer.rounding.enumerated import closest_enumerated
from reaccord.answer.rounding.grid import Columns, Grid, Rank, better
from reaccord.answer.rounding.side_by_side import SideBySide
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
AT_ONCE = 1000
"""Moves that are looked at together: of so few the calls take longer than the sums."""
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
    return _improved(
        grid, amounts, _in_a_quick_search(amounts), tuple(2**k for k in range(_doublings(grid, amounts), -1, -1))
    )


def quickly_improved_together(grid: Grid, formulas: list[FloatArray], most_work: float) -> list[FloatArray]:
    """Move formulas (m,) as `quickly_improved` does, one after the other until so much work is done."""
    if len(grid.made):
        return [quickly_improved(grid, formula) for formula in formulas if grid.work < most_work]
    done, before = grid.work, dict[int, tuple[FloatArray, int]]()
    kinds: dict[tuple[int, int], list[int]] = {}
    for number, formula in enumerate(formulas):
        lines = int(((formula > 0) & (grid.steps > 0)).sum())
        kinds.setdefault((lines, _in_a_quick_search(formula)), []).append(number)
    for (lines, together), numbers in kinds.items():
        chosen = np.array([formulas[number] for number in numbers])
        moving = ((chosen > 0) & (grid.steps > 0)).nonzero()[1].reshape(len(chosen), lines)
        doublings = np.array([_doublings(grid, formula) for formula in chosen])
        search = SideBySide(grid, chosen, moving, _pattern(lines, together), doublings)
        search.follow(MOST_ROUNDS)
        for number, found, work in zip(numbers, search.here, search.work.tolist(), strict=True):
            before[number] = grid.cleaned(found), work
    grid.work, found = done, []
    for number in range(len(formulas)):
        if grid.work >= most_work:
            break
        found.append(before[number][0])
        grid.work += before[number][1]
    return found


def _doublings(grid: Grid, amounts: FloatArray) -> int:
    """Return how often the least step is doubled for the widest move of a quick search."""
    counts = amounts / np.where(grid.steps > 0, grid.steps, np.inf)
    return max(0, int(math.log2(max(float(counts.max(initial=0.0)) * WIDEST, 1.0))))


def _in_a_quick_search(amounts: FloatArray) -> int:
    """Return how many lines a quick search moves at once."""
    return 2 if int((amounts > 0).sum()) <= IN_PAIRS else 1


def _improved(grid: Grid, amounts: FloatArray, most_together: int, scales: tuple[int, ...]) -> FloatArray:
    moving = np.flatnonzero((amounts > 0) & (grid.steps > 0))
    pattern = _pattern(len(moving), most_together)
    here, at = amounts.copy(), grid.rank(amounts)
    together = max(1, AT_ONCE // max(pattern.shape[1], 1))
    for first in range(0, len(scales), together):
        here, at = _Moves(grid, moving, pattern, scales[first : first + together]).followed(here, at)
    return grid.cleaned(here)


class _Moves:
    """All moves of a pattern, so many times each, and what they add to the totals wherever they start."""

    def __init__(self, grid: Grid, moving: Columns, pattern: FloatArray, scales: tuple[int, ...]) -> None:
        self.grid, self.moving, self.count = grid, moving, pattern.shape[1]
        grams = grid.steps[moving, None] * pattern
        added, times = grid.per_gram[:, moving] @ grams, np.array(scales)[:, None]
        self.grams, self.added = (
            (part[:, None, :] * times).reshape(len(part), len(scales) * self.count) for part in (grams, added)
        )
        slack = 1e-9 * grid.steps[moving]
        self.low, self.high = grid.least[moving] - slack, grid.maximum[moving] + slack
        self._room = np.empty_like(self.added)
        self._touched = np.flatnonzero(grid.per_made.any(axis=1))

    def followed(self, here: FloatArray, at: Rank) -> tuple[FloatArray, Rank]:
        """Return where moves lead from a formula (m,) of this rank: the best so many times each, while it is better."""
        scale, rounds, scales = 0, 0, self.grams.shape[1] // max(self.count, 1)
        while scale < scales:
            there, ranks = self._best(here, scale)
            turn = next((k for k, rank in enumerate(ranks) if better(rank, at)), len(ranks))
            self.grid.work -= len(self.added) * self.count * max(len(ranks) - turn - 1, 0)  # looked at, not needed
            if turn == len(ranks):
                break
            rounds = rounds + 1 if turn == 0 else 1
            here, at, scale = there(turn), ranks[turn], scale + turn
            if rounds >= MOST_ROUNDS:
                scale, rounds = scale + 1, 0
        return here, at

    def _best(self, here: FloatArray, scale: int) -> tuple[Callable[[int], FloatArray], list[Rank]]:
        """Return the rank of the best move from a formula (m,) at a scale and at each behind it, and what gives it."""
        grid, moving, first = self.grid, self.moving, scale * self.count
        there = here[moving, None] + self.grams[:, first:]
        totals = self._totals(here, there, first)
        excess = grid.excess(totals)
        if there.min() < self.low.max() or there.max() > self.high.min():
            inside = (there >= self.low[:, None]) & (there <= self.high[:, None])
            excess[~inside.all(axis=0)] = np.inf
        excess = excess.reshape(-1, self.count)
        least = excess.min(axis=1)
        value = np.where(excess == least[:, None], grid.value(totals).reshape(-1, self.count), np.inf)
        nearest = value.argmin(axis=1)

        def formula(turn: int) -> FloatArray:
            found = here.copy()
            found[moving] = there[:, turn * self.count + nearest[turn]]
            return found

        return formula, list(zip(least.tolist(), value.min(axis=1).tolist(), strict=True))

    def _totals(self, here: FloatArray, there: FloatArray, first: int) -> FloatArray:
        """Return the totals of all moves, in the same place every time: a megabyte anew takes longer than the sums."""
        grid = self.grid
        totals: FloatArray = self._room[:, first:]
        np.add(self.added[:, first:], grid.totals(here[:, None]), out=totals)
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
