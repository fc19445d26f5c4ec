"""A curve of closeness against an axis: its points, of which none beats another in both, and its knee."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reaccord.answer.fitted import Fit
from reaccord.contract import Status
from reaccord.domain.study import Study
from reaccord.questions.axis import Axis

KNEE = 0.3
"""Of both ranges: so far below the line between its ends a curve with a knee lies; an evenly bent one (a parabola)
lies 0.25 below."""


@dataclass(frozen=True)
class Point:
    """The closest formula with the axis at most `ceiling`; `quantity` is where its rounded formula lies."""

    ceiling: float
    quantity: float
    before_rounding: float
    fit: Fit

    @property
    def value(self) -> float:
        """The deviation of the rounded formula."""
        return self.fit.judged.closeness.value


@dataclass(frozen=True)
class Frontier:
    """The curve, from the least of the axis to the closest formula.

    `own` is the study's own ceiling, left aside; no formula with a deviation of at most `begins` lies below `least`,
    and `begins_at_nothing` says that `begins` is the deviation of pouring nothing;
    `covered`: the promise about formulas between points holds; `status` is that of the points asked for, of which there
    are `most`; `knee` is the index of a point, None where the curve has none.
    """

    study: Study
    axis: Axis
    points: tuple[Point, ...]
    own: float | None
    least: float
    begins: float
    begins_at_nothing: bool
    covered: bool
    status: Status
    most: int
    knee: int | None


def undominated(points: Sequence[Point]) -> tuple[Point, ...]:
    """Return the points that no other one beats in both: rounding may shuffle close neighbours."""
    kept: list[Point] = []
    for point in sorted(points, key=lambda p: (p.quantity, p.value)):
        if not kept or point.value < kept[-1].value:
            kept.append(point)
    return tuple(kept)


def knee_of(points: Sequence[Point]) -> int | None:
    """Return the point farthest below the chord between the ends, both ranges taken as 1, if it is far enough."""
    if len(points) < 3:
        return None
    across = np.array([point.quantity for point in points])
    value = np.array([point.value for point in points])
    width, height = across[-1] - across[0], value[0] - value[-1]
    if width <= 0 or height <= 0:
        return None
    below = 1.0 - (across - across[0]) / width - (value - value[-1]) / height
    best = int(np.argmax(below))
    return best if below[best] >= KNEE else None
