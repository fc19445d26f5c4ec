"""The closest formula on the grid over given stocks, proven: every point of the grid that could be closer is looked at.

A formula `x` (gram) with the basis `N = basis @ x` is closer than `U` where `sum_k (factor_k dist_k)^2 < U N^2`, with
`dist_k` the distance of `content_k @ x` from `[low_k N, high_k N]`. For a share it is linear in `x`. A band's square,
of `v = factor_k (content_k @ x - high_k N)` or of what it lacks of `low_k N`, is touched from below at `t` by
`t^2 + 2 t (v - t) + (1 - (w / (t + w))^2) (v - t)^2` wherever `v >= -w`. To `sum - U N^2` are added numbers that are
not positive for any formula that holds its limits: multiples of the limits and of the stocks' ends, and, of formulas
with `|N - c| <= w`, of `(N - c)^2 - w^2` and `+-(N - c) - w`. The sum is a quadratic, and where it is convex the points
below 0 lie in an ellipsoid. Its grid points are
listed line by line, the best determined line first (Fincke and Pohst, Mathematics of Computation 44, 1985; the
order after Wolniansky, Foschini, Golden and Valenzuela, ISSSE 1998), all those of one line at once.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from reaccord.answer.rounding.grid import HOLDS, Columns, Grid
from reaccord.contract import FloatArray
from reaccord.solvers.nonnegative import nonnegative

MOST_LINES = 30
MOST_POINTS = 20_000
"""Points of one line at a time: some hundredths of a second."""
MOST_SLICES = 12
"""Parts of what the batch may be missed by, each with an ellipsoid of its own."""
SLACK = 0.25
"""Of what rounding cost: what a slice may add to its ellipsoid."""
NOISE = 1e-9
FLAT = 1e-9
"""Least curvature beside a line's own: what is flatter is not told from what is not convex."""
ACTIVE = 1e-7
"""Relative; a limit this near is taken to hold the formula."""


@dataclass(frozen=True)
class _Quadratic:
    """`x' square x + linear @ x + constant` over lines (m,), in gram."""

    square: FloatArray
    linear: FloatArray
    constant: float

    def plus(self, other: _Quadratic) -> _Quadratic:
        """Return the sum."""
        return _Quadratic(self.square + other.square, self.linear + other.linear, self.constant + other.constant)


class _Shape(NamedTuple):
    """What ellipsoids of one square have in common: its inverse, the order of the lines, the root in that order."""

    spread: FloatArray
    order: Columns
    upper: FloatArray


def closest_enumerated(grid: Grid, before: FloatArray, found: FloatArray) -> tuple[FloatArray, bool]:
    """Return the closest formula (m,) with the stocks of `found` (m,), and whether that is proven.

    Parameters
    ----------
    grid
        The programme over the stocks that are looked at.
    before
        The closest amounts of these stocks before rounding, (m,): where ellipsoids are laid. Any give a true answer.
    found
        A formula on the grid that holds all limits.
    """
    lines = np.flatnonzero(found > 0)
    if grid.measure != "squares" or len(lines) > MOST_LINES or not (grid.steps[lines] > 0).all():
        return found, False
    if (before[lines] <= 0).any() or (before[found == 0] > 0).any() or grid.rank(found)[1] <= 0:
        return found, False
    return _Enumeration(grid, lines, before[lines], found).run()


class _Enumeration:
    """All formulas of some lines that could be closer than the one found."""

    def __init__(self, grid: Grid, lines: Columns, before: FloatArray, found: FloatArray) -> None:
        self.grid, self.lines, self.before, self.found = grid, lines, before, found
        self.value = grid.rank(found)[1]
        self.steps, self.basis = grid.steps[lines], grid.basis[lines]
        self.least = np.ceil(grid.least[lines] / self.steps - 1e-9)
        self.most = np.floor(np.minimum(grid.maximum[lines] / self.steps, 1e15) + 1e-9)
        self.missed = float(np.where(self.basis > 0, self.steps, 0.0).sum()) * (1 + NOISE)

    def run(self) -> tuple[FloatArray, bool]:
        """Return the closest formula (m,), and whether every one that could be closer was looked at."""
        distance, multiplier = self._bounded_below()
        shape = self._shape(distance)
        if shape is None:
            return self.found, False
        for middle, half in self._slices(multiplier):
            points = self._points(shape, self._of_slice(distance, multiplier, middle, half))
            if points is None:
                return self.found, False
            self._take(points)
        return self.found, True

    def _bounded_below(self) -> tuple[_Quadratic, float]:
        """Return what is below 0 wherever a formula is closer, and the multiplier of the batch that levels it."""
        squared = self._squared()
        slope = 2 * squared.square @ self.before + squared.linear
        normals, ends = self._active()
        basis = self.basis[:, None]
        multipliers = nonnegative(np.hstack([normals, basis, -basis]), -slope)
        of_limits, (up, down) = multipliers[:-2], multipliers[-2:]
        linear = squared.linear + normals @ of_limits
        found = _Quadratic(squared.square, linear, squared.constant - float(of_limits @ ends))
        for more in (self._within_reach, self._within_ends):
            if _convex(self._with_batch(found.square)):
                break
            found = found.plus(more())
        return found, float(up - down)

    def _within_reach(self) -> _Quadratic:
        """Return a little of what no closer formula is above 0 in: `t_k^2 - T_k^2 N^2` of the rows that are bands.

        `t_k` is how far a row is from the middle of its band, `T_k N` what a closer formula may be: half the band and
        the root of `value`. In a direction in which only bands end, nothing else tells near from far; of lines that can
        stand for each other, only how much of each a closer formula may hold.
        """
        grid, basis = self.grid, self.basis
        low, high, factor = grid.low, grid.high, grid.factor
        band = (low != high) & (factor > 0)
        content, middle = grid.content[:, self.lines][band], (low + high)[band] / 2
        rows = factor[band, None] * (content - middle[:, None] * basis)
        widest = (factor * (high - low))[band] / 2 + math.sqrt(self.value)
        whole = float(widest @ widest)
        part = self._little() / (whole * (grid.batch + self.missed) ** 2) if whole > 0 else 0.0
        square = part * (rows.T @ rows - whole * np.outer(basis, basis))
        return _Quadratic(square, np.zeros(len(basis)), 0.0)

    def _within_ends(self) -> _Quadratic:
        """Return a little of the same of each line, between its least and the most a closer formula has of it."""
        grid = self.grid
        content, factor = grid.content[:, self.lines], grid.factor[:, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            reached = (grid.high[:, None] + math.sqrt(self.value) / factor) * (grid.batch + self.missed) / content
        reached = np.where((content > 0) & (factor > 0), reached, np.inf).min(axis=0, initial=np.inf)
        self.most = np.maximum(np.minimum(self.most, np.floor(reached / self.steps + 1e-6)), self.least)
        middle = (self.most + self.least) / 2 * self.steps
        half = np.maximum(self.most - self.least, 1.0) / 2 * self.steps
        part = self._little() / (len(half) * half**2)
        return _Quadratic(np.diag(part), -2 * part * middle, float(part @ (middle**2 - half**2)))

    def _little(self) -> float:
        """Return what may be added to an ellipsoid."""
        before = float(self.grid.ranks(self._whole(self.before[:, None]))[1][0])
        return SLACK * max(abs(self.value - before), 1e-4 * self.value) * self.grid.batch**2

    def _squared(self) -> _Quadratic:
        """Return the deviation times the square of the basis, less that of `value`; bands by their tangents."""
        grid, basis = self.grid, self.basis
        content = grid.content[:, self.lines]
        low, high, factor = grid.low, grid.high, grid.factor
        makes = float(basis @ self.before)
        achieved = content @ self.before / makes
        distance = achieved - np.clip(achieved, low, high)
        end = np.where(distance > 0, high, low)
        rows = factor[:, None] * (content - end[:, None] * basis)
        shares, bands = low == high, (low != high) & (distance != 0)
        touched = factor[bands] * np.abs(distance[bands]) * makes
        away = np.where(distance > 0, 1.0, -1.0)[bands, None] * rows[bands]
        # a closer formula is off by less than the root of `value` at the other end too
        widest = (factor * (high - low))[bands] + math.sqrt(self.value)
        lowest = widest * (grid.batch + self.missed)
        curved = 1 - (lowest / (touched + lowest)) ** 2
        square = rows[shares].T @ rows[shares] + (curved[:, None] * away).T @ away
        flat = (1 - curved) * touched
        square -= self.value * np.outer(basis, basis)
        return _Quadratic(square, 2 * away.T @ flat, -float(touched @ flat))

    def _active(self) -> tuple[FloatArray, FloatArray]:
        """Return rows (m, count) and ends (count,) of what holds the formula: `row @ x <= end` for every formula."""
        grid = self.grid
        rows = grid.limits[:, self.lines]
        free = ~(grid.of_made != 0).any(axis=1)
        ends = grid.most - grid.used[:, self.lines].sum(axis=1)
        room = ends - rows @ self.before
        near = free & (room <= ACTIVE * grid.size)
        unit = np.eye(len(self.lines))
        least, most = self.least * self.steps, self.most * self.steps
        down = self.before - least <= ACTIVE * self.steps + NOISE * least
        up = most - self.before <= ACTIVE * self.steps + NOISE * most
        ends = ends[near] + HOLDS * grid.size[near]
        return (
            np.hstack([rows[near].T, -unit[:, down], unit[:, up]]),
            np.concatenate([ends, -least[down], most[up]]),
        )

    def _slices(self, multiplier: float) -> Iterator[tuple[float, float]]:
        """Yield the middle and half the width of parts of what the basis may be, thin enough to add little."""
        batch, little = self.grid.batch, self._little()
        count, curved = 1, self._curved()
        while (
            count < MOST_SLICES and curved * (self.missed / count) ** 2 + abs(multiplier) * self.missed / count > little
        ):
            count += 1
        half = self.missed / count
        for k in range(count):
            yield batch - self.missed + (2 * k + 1) * half, half

    def _curved(self) -> float:
        """Return the multiplier of `(N - c)^2`: it makes up for `-U N^2`, and for directions that nothing else sees."""
        return 2 * self.value

    def _with_batch(self, square: FloatArray) -> FloatArray:
        """Return the square with that of the batch, which is the same for all slices."""
        return square + self._curved() * np.outer(self.basis, self.basis)

    def _of_slice(self, distance: _Quadratic, multiplier: float, middle: float, half: float) -> tuple[FloatArray, float]:
        """Return the linear part and the constant of what is below 0 in a slice."""
        curved = self._curved()
        linear = distance.linear + (multiplier - 2 * curved * middle) * self.basis
        constant = distance.constant + curved * (middle**2 - half**2) - multiplier * middle - abs(multiplier) * half
        return linear, constant

    def _shape(self, distance: _Quadratic) -> _Shape | None:
        """Return the ellipsoids' shape over lines in steps; None where the points below 0 lie in none."""
        square = self.steps[:, None] * self._with_batch(distance.square) * self.steps
        if not _convex(square):
            return None
        spread = np.asarray(np.linalg.inv(square), dtype=float)
        order = _best_determined_last(spread)
        return _Shape(spread, order, np.asarray(np.linalg.cholesky(square[np.ix_(order, order)]).T, dtype=float))

    def _points(self, shape: _Shape, of_slice: tuple[FloatArray, float]) -> FloatArray | None:
        """Return the points, in steps (m, count), where a quadratic is below 0; None if they are too many."""
        linear, constant = self.steps * of_slice[0], of_slice[1]
        middle, order = -0.5 * shape.spread @ linear, shape.order
        room = -(constant + 0.5 * float(linear @ middle))
        room += NOISE * (abs(constant) + self.value * self.grid.batch**2)
        if room < 0:
            return np.zeros((len(order), 0))
        if _expected(shape.upper, room) > MOST_POINTS:
            return None
        points = _listed(shape.upper, middle[order], room, self.least[order], self.most[order])
        if points is None:
            return None
        found = np.empty_like(points)
        found[order] = points
        return found

    def _take(self, points: FloatArray) -> None:
        """Take the closest of points (m, count) in steps if it is closer and holds all limits."""
        if not points.shape[1]:
            return
        formulas = self._whole(points * self.steps[:, None])
        formulas = formulas[:, self.grid.value(self.grid.off @ formulas) < self.value]
        excess, value = self.grid.ranks(formulas)
        value = np.where(excess <= 0, value, np.inf)
        best = int(np.argmin(value)) if len(value) else -1
        if best >= 0 and value[best] < self.value:
            self.found, self.value = self.grid.cleaned(formulas[:, best]), float(value[best])

    def _whole(self, amounts: FloatArray) -> FloatArray:
        whole = np.zeros((len(self.grid.stocks), amounts.shape[1]))
        whole[self.lines] = amounts
        return whole


def _convex(square: FloatArray) -> bool:
    """Whether a quadratic curves up in every direction, by more than noise."""
    size = np.sqrt(np.maximum(np.diag(square), 1e-300))
    return bool(np.linalg.eigvalsh(square / size[:, None] / size)[0] >= FLAT)


def _best_determined_last(spread: FloatArray) -> Columns:
    """Return lines in an order in which each, told those behind it, is as sure as can be; `spread` is the inverse."""
    left, order, spread = list(range(len(spread))), list[int](), spread.copy()
    while left:
        best = min(left, key=lambda i: (spread[i, i], i))
        order.append(best)
        left.remove(best)
        spread -= np.outer(spread[:, best], spread[best]) / spread[best, best]
    return np.array(order[::-1], dtype=np.intp)


def _expected(upper: FloatArray, room: float) -> float:
    """Return about how many points there are at the fullest line: volumes of the ellipsoids."""
    sides = np.sqrt(max(room, 1e-300)) / np.diag(upper)[::-1]
    most, volume = 1.0, 0.0
    for k, side in enumerate(sides, start=1):
        volume += math.log(max(side, 1e-300))
        ball = 0.5 * k * math.log(math.pi) - math.lgamma(0.5 * k + 1)
        most = max(most, math.exp(min(volume + ball, 700.0)))
    return most


def _listed(
    upper: FloatArray, middle: FloatArray, room: float, least: FloatArray, most: FloatArray
) -> FloatArray | None:
    """Return the whole `n` (m, count) with `|upper (n - middle)|^2 <= room`, `least <= n <= most`; None if too many."""
    lines = len(middle)
    away = np.zeros((lines, 1))
    used = np.zeros(1)
    for i in range(lines - 1, -1, -1):
        centre = middle[i] - upper[i, i + 1 :] @ away[i + 1 :] / upper[i, i]
        half = np.sqrt(np.maximum(room - used, 0.0)) / upper[i, i]
        first, last = np.maximum(np.ceil(centre - half), least[i]), np.minimum(np.floor(centre + half), most[i])
        counts = np.maximum(last - first + 1, 0.0)
        if counts.sum() > MOST_POINTS:
            return None
        whole = counts.astype(np.intp)
        at = np.repeat(np.arange(len(whole)), whole)
        steps = first[at] + np.arange(len(at)) - np.repeat(np.cumsum(whole) - whole, whole)
        away, used = away[:, at], used[at] + (upper[i, i] * (steps - centre[at])) ** 2
        away[i] = steps - middle[i]
    return np.round(away + middle[:, None])
