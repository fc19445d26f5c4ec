"""Where rounding on the optimum's own stocks costs too much: other stocks, and a little more or less of the batch.

Starts are the roundings of the optimum and of the best formulas for neighbouring batches. From each a stock is left
out, added or exchanged for another, the rest poured in proportion, and what looks best is searched by steps.
Everything is counted, not timed, so that the same study gives the same formula.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import lru_cache
from itertools import combinations

import numpy as np

from reaccord.answer.rounding.grid import BoolArray, Columns, Grid, better, on_reached_basis
from reaccord.answer.rounding.steps import improved, nearest, quickly_improved_together, round_amounts
from reaccord.contract import NEARLY_ZERO, Budget, FloatArray, Programme
from reaccord.solvers.exact import first_formula

LITTLE = 1e-3
"""Relative; a rounding that costs no more than this, or than the gap asked for, is left as it is,"""
COARSE = 0.01
"""unless all lines' steps together are more than this part of the batch: then it may well be closer than that."""
FAINT = {"squares": 1e-6, "absolute": 1e-3, "worst": 1e-3}
"""A deviation that is as good as none."""
BATCHES = (-1.0, -0.5, 0.5, 1.0)
"""Neighbouring batches, in parts of what the batch may be missed by: a formula is sought for each,"""
SCALED = tuple(k / 4 for k in range(-4, 5))
"""and one at hand is poured in proportion."""
KEPT = 30
"""Stocks beside those of a formula that are tried in it: those of which a little brings it closest."""
TRIED, THOROUGHLY, STARTS, ROUNDS = 8, 4, 2, 20
"""Formulas searched by steps in a round, and how many of them thoroughly; starts; rounds."""
MOST_CHOICES = 3000
"""Ways to exchange two stocks for two others that are looked at; where there are more, one for one."""
MOST_WORK = 40_000_000
"""Numbers reckoned from all starts together: a second or two."""
WORTH = 1e-4
"""Relative; what a round must gain to be followed by another."""
SHORT = 5
"""Lines of a formula so short that a line more widens what the batch may be missed by, and that the search is cheap:
it always goes wide, and stocks are exchanged in a smaller and a larger batch as well."""
NEARLY = 0.05
"""Half of them may be over their limits by this much, relative, before that search."""


def closest_on_grid(
    programme: Programme, amounts: FloatArray, budget: Budget, more: Iterable[FloatArray] = ()
) -> FloatArray | None:
    """Return amounts on the grid that hold every limit, as close as the search finds them.

    Parameters
    ----------
    programme, amounts
        As for `round_amounts`; `amounts` (n,) are the optimum.
    budget
        Its gap is what rounding may cost before other stocks are tried; its end ends that.
    more
        Amounts (n,) to start from where no other start can be rounded.

    Returns
    -------
    amounts : (n,) or None
        None if nothing found holds all limits.
    """
    own = round_amounts(programme, amounts)
    little = 1 + max(LITTLE, budget.gap)
    if own is not None and (budget.over() or _enough(programme, amounts, own, little)):
        return own
    near = _batches(programme, amounts, budget)
    long = int((programme.step[amounts > 0] > 0).sum()) > SHORT
    if (
        own is not None
        and long
        and _value(programme, own) <= little * min(_value(programme, x) for x in (amounts, *near))
    ):
        return own  # nothing to be had from a little more or less of the batch
    starts = _starts(programme, own, near, more) or [amounts]
    best, work = None, 0
    for start in _first(programme, starts)[:STARTS]:
        search = _Search(programme, start, budget, MOST_WORK - work)
        found = search.run()
        work += search.grid.work
        if found is not None and (best is None or _value(programme, found) < _value(programme, best)):
            best = found
    return best


def _starts(
    programme: Programme, own: FloatArray | None, near: Iterable[FloatArray], more: Iterable[FloatArray]
) -> list[FloatArray]:
    """Return what there is on the grid, holding every limit; `more` is asked only while there is nothing."""
    found = [own, *(round_amounts(programme, start, far=True) for start in near)]
    starts = [start for start in found if start is not None]
    for start in () if starts else more:
        rounded = round_amounts(programme, start)
        if rounded is not None:
            return [rounded]
    return starts


def _enough(programme: Programme, amounts: FloatArray, own: FloatArray, little: float) -> bool:
    """Whether a rounding is left as it is."""
    before, after = programme.value(amounts), _value(programme, own)
    if float(programme.step[amounts > 0].sum()) > COARSE * programme.batch_g:
        return after <= NEARLY_ZERO
    return after <= max(before * little, FAINT[programme.measure])


def _value(programme: Programme, amounts: FloatArray) -> float:
    return on_reached_basis(programme, amounts).value(amounts)


def _first(programme: Programme, starts: list[FloatArray]) -> list[FloatArray]:
    """Return the starts that differ, the closest first."""
    different = {start.tobytes(): start for start in starts}
    return sorted(different.values(), key=lambda start: _value(programme, start))


def _batches(programme: Programme, amounts: FloatArray, budget: Budget) -> list[FloatArray]:
    """Return good formulas for neighbouring batches, before rounding."""
    allowed = float(programme.step[amounts > 0].sum())
    found = []
    for part in BATCHES:
        batch = programme.batch_g + part * allowed
        if batch > 0 and not budget.over():
            found.append(first_formula(replace(programme, batch_g=batch), budget.rest()))
    return [start for start in found if start is not None]


class _Search:
    """The search from one start; it ends when nothing better is near, when stopped, or after so much work."""

    def __init__(self, programme: Programme, start: FloatArray, budget: Budget, most_work: int) -> None:
        self.grid = Grid(programme, start, _stocks(programme, start))
        self.start = nearest(self.grid, self.grid.narrowed(start))
        self._budget, self._most_work = budget, most_work

    def run(self) -> FloatArray | None:
        """Return the best formula (n,) found, or None if it does not hold all limits."""
        grid, here, at = self.grid, self.start, self.grid.rank(self.start)
        for _ in range(ROUNDS):
            best = min(self._searched(_neighbours(grid, here)), key=grid.rank, default=here)
            before, after = at, grid.rank(best)
            if not better(after, before):
                break
            here, at = best, after
            if self._over() or (before[0] <= 0 and after[1] > before[1] * (1 - WORTH)):
                break
        return grid.whole(here) if at[0] <= 0 else None

    def _over(self) -> bool:
        return self._budget.over() or self.grid.work >= self._most_work

    def _searched(self, formulas: list[FloatArray]) -> list[FloatArray]:
        """Return formulas searched by steps: all quickly, then the best of them thoroughly."""
        quickly = [] if self._over() else quickly_improved_together(self.grid, formulas, self._most_work)
        if not quickly:
            return []
        excess, value = self.grid.ranks(np.array(quickly).T)
        best = [quickly[i] for i in np.lexsort((value, excess))[:THOROUGHLY]]
        different = {formula.tobytes(): formula for formula in best}
        return [improved(self.grid, formula) for formula in different.values() if not self._over()]


def _stocks(programme: Programme, start: FloatArray) -> Columns:
    """Return the stocks of a formula and those worth trying beside them."""
    steps, helpers = programme.step, programme.helpers
    least = np.maximum(programme.minimum, steps)
    free = np.flatnonzero((start == 0) & (steps > 0) & (programme.maximum >= least) & ~helpers)
    kept = {int(i) for i in np.flatnonzero((start > 0) & ~helpers)}
    content, basis = programme.content @ start, float(programme.basis @ start)
    added = content[:, None] + programme.content[:, free] * least[free]
    achieved = added / (basis + programme.basis[free] * least[free])
    scaled = programme.factor[:, None] * (achieved - np.clip(achieved, programme.low[:, None], programme.high[:, None]))
    kept |= {int(i) for i in free[np.argsort((scaled**2).sum(axis=0), kind="stable")[:KEPT]]}
    for material in programme.strengths:
        if any(start[i] > 0 for same in material for i in same):
            kept |= {i for same in material for i in same}
    return np.array(sorted(kept), dtype=np.intp)


def _neighbours(grid: Grid, here: FloatArray) -> list[FloatArray]:
    """Return the neighbouring formulas that look best: more or less of the same, and one for each choice of stocks."""
    found = _best(grid, _proportions(grid, here), np.ndarray.tobytes)
    batches = [float(grid.basis @ here)]
    if int((here > 0).sum()) <= SHORT:
        allowed = float(grid.steps[here > 0].sum())
        batches += [grid.batch - allowed, grid.batch + allowed]
    formulas, fixed = _exchanged(grid, here)
    for batch in batches:
        found += _best(grid, _poured(grid, formulas, fixed, np.full(formulas.shape[1], batch)), _supports)
    return found


def _best(grid: Grid, tried: FloatArray, kind: Callable[[FloatArray], bytes]) -> list[FloatArray]:
    """Return the best formulas (m, count) of each kind, half of them before they hold every limit."""
    excess, value = grid.ranks(tried)
    chosen: dict[bytes, int] = {}
    near = np.flatnonzero(excess <= NEARLY)
    by_value = near[np.lexsort((excess[near], value[near]))]
    for order, most in ((np.lexsort((value, excess)), TRIED // 2), (by_value, TRIED)):
        for i in order:
            if len(chosen) >= most:
                break
            chosen.setdefault(kind(tried[:, i]), int(i))
    return [tried[:, i] for i in chosen.values()]


def _supports(formula: FloatArray) -> bytes:
    return (formula > 0).tobytes()


def _proportions(grid: Grid, here: FloatArray) -> FloatArray:
    """Return the formula itself for neighbouring batches, as columns."""
    allowed = float(grid.steps[here > 0].sum())
    batches = grid.batch + allowed * np.array(SCALED)
    formulas = np.repeat(here[:, None], len(batches), axis=1)
    return _poured(grid, formulas, np.zeros(formulas.shape, dtype=bool), batches)


def _exchanged(grid: Grid, here: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Return the formula with stocks left out, added at their least, or in the place of another, as columns.

    And which amounts (m, count) are not to be poured in proportion.
    """
    on, off = (np.flatnonzero(stocks & (grid.steps > 0)) for stocks in (here > 0, here == 0))
    left_out, added = _choices(len(on), len(off))
    out, place = (a.ravel() for a in np.meshgrid(on[grid.basis[on] > 0], off[grid.basis[off] > 0], indexing="ij"))
    swapped = np.arange(len(out)) + added.shape[1]
    formulas = np.repeat(here[:, None], added.shape[1] + len(out), axis=1)
    fixed = np.zeros(formulas.shape, dtype=bool)
    formulas[on, : added.shape[1]] *= ~left_out
    formulas[off, : added.shape[1]], fixed[off, : added.shape[1]] = added * grid.least[off, None], added
    formulas[out, swapped] = 0.0
    formulas[place, swapped], fixed[place, swapped] = here[out] * grid.basis[out] / grid.basis[place], True
    return formulas, fixed


@lru_cache(maxsize=16)
def _choices(on: int, off: int) -> tuple[BoolArray, BoolArray]:
    """Return which of so many to leave out (on, count) and which of so many to add (off, count).

    Two at a time where these are few enough, else one.
    """
    for together in (2, 1):
        out, more = (_chosen(count, together) for count in (on, off))
        if out.shape[1] * more.shape[1] <= MOST_CHOICES:
            break
    return np.repeat(out, more.shape[1], axis=1)[:, 1:], np.tile(more, out.shape[1])[:, 1:]  # not: nothing and nothing


def _chosen(count: int, most: int) -> BoolArray:
    """Return all choices (count, ...) of so many at most."""
    places = [chosen for together in range(most + 1) for chosen in combinations(range(count), together)]
    found = np.zeros((count, len(places)), dtype=bool)
    for column, chosen in enumerate(places):
        found[list(chosen), column] = True
    return found


def _poured(grid: Grid, formulas: FloatArray, fixed: BoolArray, batches: FloatArray) -> FloatArray:
    """Return formulas (m, count) on the grid, what is not `fixed` in proportion so that they make these batches."""
    fixed = fixed | (grid.steps == 0)[:, None]
    rest = np.where(fixed, 0.0, formulas)
    makes = grid.basis @ rest
    wanted = batches - grid.basis @ np.where(fixed, formulas, 0.0)
    times = np.where((makes > 0) & (wanted > 0), wanted / np.where(makes > 0, makes, 1.0), 1.0)
    poured = np.where(fixed, formulas, rest * times)
    on = np.flatnonzero(grid.steps > 0)
    whole = np.round(poured[on] / grid.steps[on, None]) * grid.steps[on, None]
    whole = np.clip(whole, grid.least[on, None], grid.maximum[on, None])
    poured[on] = np.where(formulas[on] > 0, whole, 0.0)
    return poured
