"""The frontier as a picture: what is wrong against what closeness is set against."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reaccord.questions.curve import Frontier
from reaccord.report.frontier import OVER, heading, marks, quantity_of, shown, verdict, wrong
from reaccord.report.pictures import ACCENT, INK, PAPER, RULE, SOFT, picture

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEAST = 0.1
"""Percent wrong that the upright axis shows at least."""
HEIGHT = 4.4


def frontier_picture(found: Frontier, ending: str) -> bytes:
    """Return the curve: points hollow where not proven, pale where the study's own limit forbids them."""
    title = f"{found.study.title or 'Untitled study'}: closeness against {found.axis.label}"
    return picture(ending, title, verdict(found), HEIGHT, lambda axes: _paint(axes, found))


def _paint(axes: Axes, found: Frontier) -> None:
    factor = 100 if found.axis.unit == "share" else 1
    across = [quantity_of(found, point) * factor for point in found.points]
    values = [wrong(point) for point in found.points]
    _scales(axes, found, across, values)
    _curve(axes, found, across, values)
    if found.own is not None and across[0] <= found.own * factor <= across[-1]:
        _own_limit(axes, found.own * factor, f"the study's own limit, {shown(found, found.own)}")
    for number, words in _ends(found).items():
        first = number == 0
        axes.annotate(
            f"{words}, {shown(found, quantity_of(found, found.points[number]))}",
            xy=(across[number], values[number]),
            xytext=(9, -1) if first else (0, 9),
            textcoords="offset points",
            ha="left" if first else "right",
            color=ACCENT,
        )


def _scales(axes: Axes, found: Frontier, across: list[float], values: list[float]) -> None:
    axes.set_ylim(0, 1.08 * max(*values, LEAST))
    axes.margins(x=0.03)
    axes.plot(across, values, alpha=0)  # sets the range
    units = {"per kg": " of accord (money as in the tables)"}
    axes.set_xlabel(heading(found) + units.get(found.axis.unit, ""))
    axes.set_ylabel("wrong substance, % of the accord")
    axes.grid(visible=True, color=RULE, linewidth=0.4)
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(length=0, pad=6, colors=SOFT)
    if found.axis.whole:
        from matplotlib.ticker import MaxNLocator

        axes.xaxis.set_major_locator(MaxNLocator(integer=True))


def _own_limit(axes: Axes, at: float, label: str) -> None:
    axes.axvline(at, color=INK, linestyle="--", linewidth=1)
    right = at > 0.5 * sum(axes.get_xlim())
    axes.annotate(
        label,
        xy=(at, 0.98),
        xycoords=axes.get_xaxis_transform(),
        xytext=(-6 if right else 6, 0),
        textcoords="offset points",
        ha="right" if right else "left",
        va="top",
    )


def _curve(axes: Axes, found: Frontier, across: list[float], values: list[float]) -> None:
    """Draw the points, hollow where not proven, dotted where the study's own limit forbids them; and the knee."""
    over = [n for n in range(len(across)) if OVER in marks(found, n)]
    kept = len(across) - len(over)
    axes.plot(across[:kept], values[:kept], color=ACCENT, linewidth=1.6, marker="o", ms=5)
    if over:
        first = max(kept - 1, 0)
        axes.plot(across[first:], values[first:], ":", color=ACCENT, linewidth=1.6, alpha=0.6, zorder=1.9)
        axes.plot(across[kept:], values[kept:], "o", color=ACCENT, ms=5, alpha=0.6)
    unproven = [n for n, point in enumerate(found.points) if point.fit.answer.status != "proven"]
    if unproven:
        places = [across[n] for n in unproven], [values[n] for n in unproven]
        axes.plot(*places, "o", color=PAPER, mec=ACCENT, ms=6, label="not proven")
        axes.legend(frameon=False, labelcolor=SOFT)
    if found.knee is None:
        return
    knee = across[found.knee], values[found.knee]
    axes.plot(*knee, "D", color=INK, ms=7, zorder=3)
    words = f"knee, {shown(found, quantity_of(found, found.points[found.knee]))}"
    axes.annotate(words, xy=knee, xytext=(10, 9), textcoords="offset points", fontweight="bold")


def _ends(found: Frontier) -> dict[int, str]:
    """Return what the ends of the curve are called."""
    first = "fewest" if found.axis.unit == "lines" else "curve begins"
    last = len(found.points) - 1
    return {0: first, last: "closest"} if last > 0 else {0: "closest"}
