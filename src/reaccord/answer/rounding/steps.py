"""The search on the stocks of one formula: steps of one line or several at once.

Where it cannot mend a limit, a small integer programme finds amounts that hold all of them.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import combinations, product

import numpy as np

from reaccord.answer.amounts import nearest_steps
from reaccord.answer.rounding.enumerated import closest_enumerated
from reaccord.answer.rounding.grid import SLIGHT, Grid, Rank, ahead, better
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
    return nearest_steps(amounts, grid.steps, grid.least, grid.maximum)


def improved(grid: Grid, amounts: FloatArray) -> FloatArray:
    """Move a step of a few lines of a formula (m,) at once while that mends a limit or brings it closer."""
    return _improved(grid, amounts, MOST_TOGETHER, (1,))


def quickly_improved(grid: Grid, amounts: FloatArray) -> FloatArray:
    """Move one line or two of a formula (m,) at once, by many steps first and by single ones in the end."""
    return _improved(grid, amounts, _in_a_quick_search(amounts), _scales(_doublings(grid, amounts)))


def quickly_improved_together(grid: Grid, formulas: list[FloatArray], most_work: float) -> list[FloatArray]:
    """Move formulas (m,) as `quickly_improved` does, one after the other until so much work is done."""
    done, moves = grid.work, [_moves(grid, formula, _in_a_quick_search(formula)) for formula in formulas]
    search = SideBySide(grid, formulas, moves, [_doublings(grid, formula) for formula in formulas])
    for number, at, doublings in search.follow(MOST_ROUNDS):
        grid.work = 0
        search.here[:, number] = _followed(grid, search.here[:, number], at, moves[number], _scales(doublings))
        search.work[number] += grid.work
    grid.work = done
    for number, work in enumerate(search.work.tolist()):
        if grid.work >= most_work:
            return list(grid.cleaned(search.here.T[:number]))
        grid.work += work
    return list(grid.cleaned(search.here.T))


def _doublings(grid: Grid, amounts: FloatArray) -> int:
    """Return how often the least step is doubled for the widest move of a quick search."""
    counts = amounts / np.where(grid.steps > 0, grid.steps, np.inf)
    return max(0, int(math.log2(max(float(counts.max(initial=0.0)) * WIDEST, 1.0))))


def _in_a_quick_search(amounts: FloatArray) -> int:
    """Return how many lines a quick search moves at once."""
    return 2 if int((amounts > 0).sum()) <= IN_PAIRS else 1


def _improved(grid: Grid, amounts: FloatArray, most_together: int, scales: tuple[int, ...]) -> FloatArray:
    moves = _moves(grid, amounts, most_together)
    return grid.cleaned(_followed(grid, amounts, grid.rank(amounts), moves, scales))


def _followed(grid: Grid, here: FloatArray, at: Rank, moves: FloatArray, scales: tuple[int, ...]) -> FloatArray:
    """Return where moves (m, count) lead from a formula (m,) of this rank."""
    together = max(1, AT_ONCE // max(moves.shape[1], 1))
    for first in range(0, len(scales), together):
        here, at = _Moves(grid, moves, scales[first : first + together]).followed(here, at)
    return here


def _scales(doublings: int) -> tuple[int, ...]:
    return tuple(2**k for k in range(doublings, -1, -1))


def _moves(grid: Grid, amounts: FloatArray, most_together: int) -> FloatArray:
    """Return the moves (m, count) of a formula's lines, in gram, single steps."""
    moving = np.flatnonzero((amounts > 0) & (grid.steps > 0))
    pattern = _pattern(len(moving), most_together)
    grams = np.zeros((len(amounts), pattern.shape[1]))
    grams[moving] = grid.steps[moving, None] * pattern
    return grams


class _Moves:
    """Moves (m, count) in gram, so many times each, and what they add to how far a formula is off."""

    def __init__(self, grid: Grid, grams: FloatArray, scales: tuple[int, ...]) -> None:
        self.grid, self.count, self.scales = grid, grams.shape[1], len(scales)
        self.grams = np.concatenate([grams * scale for scale in scales], axis=1)
        self.added = grid.off @ self.grams

    def followed(self, here: FloatArray, at: Rank) -> tuple[FloatArray, Rank]:
        """Return where moves lead from a formula (m,) of this rank: the best so many times each, while it is better."""
        scale, rounds, room = 0, 0, self.grid.room_to_move(here[:, None])
        while scale < self.scales:
            turn, there, rank = self._best(here, room, at, scale)
            self.grid.work += self.grid.each * self.count * min(turn + 1, self.scales - scale)
            if scale + turn == self.scales:
                break
            rounds = rounds + 1 if turn == 0 else 1
            here, at, scale = there, rank, scale + turn
            if rounds >= MOST_ROUNDS:
                scale, rounds = scale + 1, 0
        return here, at

    def _best(self, here: FloatArray, room: FloatArray, at: Rank, scale: int) -> tuple[int, FloatArray, Rank]:
        """Return the best move of the first scale, counted from this one, at which one is better; else how many are.

        Limits are asked only of what is closer, and of all moves where some do not hold yet.
        """
        grid, first, held = self.grid, scale * self.count, at[0] <= 0
        value = grid.value(self.added[:, first:] + grid.off @ here[:, None])
        columns = (value < at[1] * (1 - SLIGHT)).nonzero()[0] if held else np.arange(len(value))
        value, there = value[columns], here[:, None] + self.grams[:, first + columns]
        excess = grid.held(there, room) if held else grid.excess(there, room)
        good = (excess <= 0 if held else ahead(excess, value, *at)).nonzero()[0]
        if not len(good):
            return self.scales - scale, here, at
        turn = columns[good] // self.count
        good = good[turn == turn[0]]
        good = good[excess[good] == excess[good].min()]
        best = good[value[good].argmin()]
        return int(turn[0]), there[:, best], (float(excess[best]), float(value[best]))


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
