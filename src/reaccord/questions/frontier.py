"""How closeness trades against cost, lines, carrier or a restricted substance: a curve with a promise.

Between two neighbouring points nothing is guessed: what lies below the dearer one's ceiling cannot be closer than
that one's proven bound. So where the cheaper point is hardly farther off than this bound, or lies hardly lower,
no formula beats the curve by more than a hundredth of its range, and no more points are asked for. Of the other gaps
those between the neighbours that differ most are halved first, until there are as many points as were asked for.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.contract import NEARLY_ZERO, Answer, Budget
from reaccord.domain.study import Study
from reaccord.findings import NoFormula
from reaccord.questions.axis import axis_of
from reaccord.questions.curve import Frontier, Point, knee_of, undominated
from reaccord.questions.epsilon_constraint import Ceilings, least_within
from reaccord.questions.side_by_side import Pool

BETTER = 0.01
"""Of the curve's range: by no more than this is any formula better than the curve,"""
STEP = 0.1
"""and no step of the curve is more than this part of the deviation above it."""
TWICE = 2.0
POINTS, FEWEST = 12, 2
"""Of a curve, where nothing else is asked for; and the ends."""
AT_ONCE = 4
"""Points of one round, which begin from those before it; a round takes the gaps at least half as wide as the widest."""
HALF_AS_WIDE = 0.5
ROOM = (0.0, 1e-4, 1e-3, 3e-3, 1e-2, 3e-2, 0.1)
"""Of the range: how far above the least possible the first point is tried, until it can be weighed."""

Told = Callable[[int, int], None]


def frontier(
    study: Study,
    against: str = "cost",
    budget: Budget | None = None,
    workers: int = 1,
    told: Told | None = None,
    *,
    points: int = POINTS,
) -> Frontier:
    """Return closeness against an axis.

    Parameters
    ----------
    study
        Its own ceiling on the axis is left aside, all other limits stay.
    against
        `cost`, `lines`, `carrier`, or a limit on restricted substances as `fit` lists it.
    budget
        Gap of each point; seconds for all of it; a call that interrupts.
    workers
        Processes that solve points at the same time; the points do not depend on their number.
    told
        Is told of points done, and of how many there may be.
    points
        How many to find at most, 2 at least: fewer where they promise as much.

    Raises
    ------
    UsageError, InvalidInput
        If the axis is unknown, or it is cost and a bottle has no price.
    NoFormula, NoAnswer
        If there is no formula, or none in time.
    """
    axis = axis_of(study, against)
    deadline = (budget or Budget()).running()
    ceilings = Ceilings(study, axis)
    closest = fit(ceilings.unlimited, deadline.rest(), ceilings.free, shorten=False)
    with Pool(ceilings, deadline, workers) as pool:
        drawing = _Drawing(ceilings, deadline, closest, pool, (max(points, FEWEST), told))
        found, covered = drawing.counted() if axis.whole else drawing.continuous()
    return _curve(drawing, found, covered)


class _Drawing:
    """Draws one curve, point by point."""

    def __init__(
        self, ceilings: Ceilings, deadline: Budget, closest: Fit, pool: Pool, asked: tuple[int, Told | None]
    ) -> None:
        self.study, self.axis, self.ceilings = ceilings.study, ceilings.axis, ceilings
        self.deadline, self.pool = deadline, pool
        self.most, self.told = asked
        self.cut_short = False
        self.closest = self._point(math.inf, closest)
        self.least, self.begins, self.begins_at_nothing = (1.0 if self.axis.whole else 0.0), math.inf, False
        self.points: list[Point] = []
        self._begun = False

    def counted(self) -> tuple[tuple[Point, ...], bool]:
        """Return the best formula for each number of lines, from the fewest possible to the closest's own."""
        last = int(self.closest.quantity)
        self.points = [replace(self.closest, ceiling=float(last))]
        waiting, asked = [float(last // 2)] if last > 1 else [], {float(last)}
        while waiting and self._goes_on():
            found = self._solved(waiting)
            asked |= set(waiting)
            self.points = sorted([*self.points, *found], key=lambda point: point.ceiling)
            waiting = self._widest(self._halves([self.least - 1, *sorted(n for n in asked if n >= self.least)]))
        points = self.points
        covered = len(points) == last + 1 - int(self.least)
        best: list[Point] = []
        for point in points:  # more lines may be used, they need not
            before = best[-1] if best else None
            worse = before is not None and before.value <= point.value
            best.append(replace(before, ceiling=point.ceiling) if before is not None and worse else point)
        return tuple(best), covered

    def continuous(self) -> tuple[tuple[Point, ...], bool]:
        """Return the curve, every gap halved until its promise holds; and whether it does."""
        first = self._first()
        self.points = [first, self.closest]
        own = self.axis.own(self.study)
        waiting = self._widest(self._gaps())
        if own is not None and first.ceiling < own < self.closest.quantity:
            waiting = [own]
        failed: set[float] = set()
        while waiting and self._goes_on():
            found = self._solved(waiting)
            failed |= set(waiting) - {point.ceiling for point in found}
            self.points = sorted([*self.points, *found], key=lambda point: point.ceiling)
            waiting = self._widest({at: gap for at, gap in self._gaps().items() if at not in failed})
        self.cut_short = self.cut_short or bool(failed) or not self._begun
        return tuple(self.points), self._begun and not failed and not self._gaps()

    def _goes_on(self) -> bool:
        """Whether there are points left to find, and time."""
        if len(self.points) >= self.most:
            return False
        self.cut_short = self.deadline.over()
        return not self.cut_short

    def _widest(self, gaps: Mapping[float, float]) -> list[float]:
        """Return the ceilings of the next round, those in the widest gaps; no more than there are points left."""
        order = sorted(gaps, key=lambda ceiling: (-gaps[ceiling], ceiling))
        wide = [ceiling for ceiling in order if gaps[ceiling] >= HALF_AS_WIDE * gaps[order[0]]]
        return sorted(wide[: min(AT_ONCE, max(self.most - len(self.points), 0))])

    def _halves(self, counted: Sequence[float]) -> dict[float, float]:
        """Return the number in the middle of each gap between numbers already asked for, and how wide the gap is."""
        value = {point.ceiling: point.before_rounding for point in self.points}
        high = max(value.values())
        return {
            float((low + up) // 2): abs(value.get(low, 2 * high) - value[up]) if up in value else high
            for low, up in pairwise(counted)
            if up - low > 1
        }

    def _first(self) -> Point:
        """Return the end of the curve: the least of the axis among formulas nearer than pouring nothing."""
        amounts = self.closest.fit.answer.amounts
        assert amounts is not None
        nothing = self.ceilings.free.value(np.zeros(len(amounts)))
        self.begins = max(nothing, TWICE * self.closest.before_rounding)
        self.begins_at_nothing = self.begins == nothing
        deadline = replace(self.deadline, warm=self.closest.fit.answer.warm)
        found = least_within(self.ceilings, self.begins, amounts, deadline)
        self.least = found.bound
        width = max(self.closest.quantity - found.quantity, 0.0)
        self._begun = found.quantity - found.bound <= max(BETTER * width, self.deadline.gap * found.quantity)
        for room in ROOM:
            points = self._solved([found.quantity + room * width])
            if points:
                return points[0]
        return self.closest

    def _gaps(self) -> dict[float, float]:
        """Return a ceiling in the middle of each gap in which a formula could still beat the curve, and its width.

        The width is of both ranges: how far its ends lie apart, once each range is taken as 1.
        """
        low, high = self.points[0], self.points[-1]
        width = max(high.quantity - low.quantity, 0.0)
        height = max(low.before_rounding - high.before_rounding, 0.0)
        waiting = {}
        for cheap, dear in pairwise(self.points):
            at = min(dear.quantity, dear.ceiling)
            bound = dear.fit.bound
            down, across = cheap.before_rounding - bound, at - cheap.ceiling
            near = down <= max(min(BETTER * height, STEP * bound), NEARLY_ZERO)
            if not near and across > BETTER * width:
                waiting[0.5 * (cheap.ceiling + at)] = math.hypot(across / width, down / max(height, NEARLY_ZERO))
        return waiting

    def _solved(self, ceilings: Sequence[float]) -> list[Point]:
        """Return the points at these ceilings that have a formula; lines too few raise `least`."""
        self._tell(0)
        found = []
        asked = [(ceiling, self._near(ceiling)) for ceiling in ceilings]
        for done, (ceiling, answer) in enumerate(zip(ceilings, self.pool.fits(asked), strict=True), start=1):
            self._tell(done)
            if isinstance(answer, Fit):
                found.append(self._point(ceiling, answer))
            elif isinstance(answer, NoFormula) and self.axis.whole:
                self.least = max(self.least, ceiling + 1)
        return found

    def _near(self, ceiling: float) -> Answer:
        """Return the answer of the last point known below a ceiling, which fits under it, or of the next above."""
        below = [point for point in self.points if point.ceiling <= ceiling]
        return (below[-1] if below else self.points[0] if self.points else self.closest).fit.answer

    def _tell(self, done: int) -> None:
        if self.told is not None:
            done += len(self.points)
            self.told(done, max(done, self.most))

    def _point(self, ceiling: float, found: Fit) -> Point:
        quantity = self.axis.quantity(self.study, found.amounts)
        return Point(ceiling, quantity, found.judged_before.closeness.value, found)


def _curve(drawing: _Drawing, points: Sequence[Point], covered: bool) -> Frontier:
    axis, study = drawing.axis, drawing.study
    kept = tuple(points) if axis.whole else undominated(points)
    proven = not drawing.cut_short and all(point.fit.answer.status == "proven" for point in kept)
    return Frontier(
        study=study,
        axis=axis,
        points=kept,
        own=axis.own(study),
        least=drawing.least,
        begins=drawing.begins,
        begins_at_nothing=drawing.begins_at_nothing,
        covered=covered,
        status="proven" if proven else "feasible",
        most=drawing.most,
        knee=knee_of(kept),
    )
