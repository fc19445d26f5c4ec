"""The curve of closeness against cost (or lines, carrier, a rule) as positions for a page."""

from __future__ import annotations

from dataclasses import dataclass

from reaccord.questions.curve import Frontier
from reaccord.report.frontier import heading, quantity_of, shown, wrong

WIDTH, HEIGHT, LEFT, BELOW = 640.0, 260.0, 46.0, 34.0


@dataclass(frozen=True)
class Dot:
    """A point of the curve; `here` is the study's own."""

    x: float
    y: float
    says: str


@dataclass(frozen=True)
class Curve:
    """Dots from left to right, numbered ends of both axes, where the study's own limit stands."""

    across: str
    dots: tuple[Dot, ...]
    own: float | None
    own_says: str
    ends: tuple[str, str]
    most: str


def curve(found: Frontier) -> Curve:
    """Return the curve's geometry, in units of a picture of 640 by 260."""
    across = [quantity_of(found, point) for point in found.points]
    upward = [wrong(point) for point in found.points]
    low, high, top = min(across), max(across), max(*upward, 0.1)

    def x(quantity: float) -> float:
        return round(LEFT + (WIDTH - LEFT - 12) * ((quantity - low) / (high - low) if high > low else 0.5), 1)

    dots = [
        Dot(x(a), round((HEIGHT - BELOW) * (1 - up / top) + 8, 1), f"{shown(found, a)}: {up:.1f} % wrong")
        for a, up in zip(across, upward, strict=True)
    ]
    inside = found.own is not None and low <= found.own <= high
    own = x(found.own) if inside and found.own is not None else None
    says = shown(found, found.own) if found.own is not None else ""
    return Curve(heading(found), tuple(dots), own, says, (shown(found, low), shown(found, high)), f"{top:.1f} %")
