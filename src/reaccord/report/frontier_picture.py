"""The frontier as a picture (SVG or PNG), drawn with matplotlib if that is installed."""

from __future__ import annotations

import io
from importlib.util import find_spec
from typing import Any

from reaccord.findings import UsageError
from reaccord.questions.frontier import Frontier
from reaccord.report.frontier import OVER, heading, marks, quantity_of, shown, wrong

LEAST = 0.1
"""Percent wrong that the upright axis shows at least."""
LINE, MARK, LIMIT = "#1b4f72", "#b03a2e", "#7d6608"


def need_library() -> None:
    """Raise `UsageError` if there is nothing to draw with."""
    if find_spec("matplotlib") is None:
        raise UsageError("a picture needs matplotlib; install it with: pip install 'reaccord[plots]'")


def frontier_picture(found: Frontier, form: str) -> bytes:
    """Return the curve as `svg` or `png`; the same curve gives the same bytes."""
    need_library()
    import matplotlib as mpl
    from matplotlib.figure import Figure

    settings: Any = {"svg.hashsalt": "reaccord", "svg.fonttype": "none", "font.size": 9}
    settings |= {"text.parse_math": False}  # a $ in a name is a $
    with mpl.rc_context(settings):
        figure = Figure(figsize=(7.2, 4.6), layout="constrained")
        _draw(figure.add_subplot(), found)
        stream = io.BytesIO()
        figure.savefig(stream, format=form, dpi=150, metadata={"Date": None} if form == "svg" else None)
    return stream.getvalue()


def _draw(axes: Any, found: Frontier) -> None:
    factor = 100 if found.axis.unit == "share" else 1
    across = [quantity_of(found, point) * factor for point in found.points]
    values = [wrong(point) for point in found.points]
    _scales(axes, found, across, values)
    _curve(axes, found, across, values)
    if found.own is not None and across[0] <= found.own * factor <= across[-1]:
        axes.axvline(found.own * factor, color=LIMIT, linestyle="--", linewidth=1.2)
        label = f"the study's own limit, {shown(found, found.own)}"
        side = "right" if found.own * factor > 0.5 * sum(axes.get_xlim()) else "left"
        place = found.own * factor, 0.97
        offset = (-5 if side == "right" else 5), 0
        drawn = axes.get_xaxis_transform()
        axes.annotate(label, place, offset, drawn, "offset points", color=LIMIT, ha=side, va="top")
    for number, words in _ends(found).items():
        side = "left" if number == 0 else "right"
        axes.annotate(
            f"{words}, {shown(found, quantity_of(found, found.points[number]))}",
            *((across[number], values[number]), ((8, -2) if number == 0 else (0, 8))),
            *("data", "offset points"),
            color=LINE,
            ha=side,
        )


def _scales(axes: Any, found: Frontier, across: list[float], values: list[float]) -> None:
    axes.set_ylim(0, 1.05 * max(*values, LEAST))
    axes.margins(x=0.03)
    axes.plot(across, values, alpha=0)  # sets the range
    units = {"per kg": " of accord (money as in the tables)", "lines": " used at most"}
    axes.set_xlabel(heading(found) + units.get(found.axis.unit, ""))
    axes.set_ylabel("wrong substance, % of the accord")
    title = f"{found.study.title or 'Untitled study'}: closeness against {found.axis.label}"
    axes.set_title(title, loc="left", fontsize=10, wrap=True)
    axes.grid(visible=True, linewidth=0.3)
    axes.spines[["top", "right"]].set_visible(False)
    if found.axis.whole:
        from matplotlib.ticker import MaxNLocator

        axes.xaxis.set_major_locator(MaxNLocator(integer=True))


def _curve(axes: Any, found: Frontier, across: list[float], values: list[float]) -> None:
    """Draw the points, hollow where not proven, lighter where the study's own limit forbids them; mark the knee."""
    over = [n for n in range(len(across)) if OVER in marks(found, n)]
    kept = len(across) - len(over)
    axes.plot(across[:kept], values[:kept], color=LINE, linewidth=1.4, marker="o", markersize=3.5)
    if over:
        first = max(kept - 1, 0)
        axes.plot(across[first:], values[first:], color=LINE, linewidth=1.0, alpha=0.45, zorder=1.9)
        axes.plot(across[kept:], values[kept:], "o", color=LINE, markersize=3.5, alpha=0.45)
    unproven = [n for n, point in enumerate(found.points) if point.fit.answer.status != "proven"]
    if unproven:
        places = [across[n] for n in unproven], [values[n] for n in unproven]
        axes.plot(*places, "o", color="white", markeredgecolor=LINE, markersize=5, label="not proven")
        axes.legend(frameon=False)
    if found.knee is None:
        return
    knee = across[found.knee], values[found.knee]
    axes.plot(*knee, "D", color=MARK, markersize=7, zorder=3)
    words = f"knee, {shown(found, quantity_of(found, found.points[found.knee]))}"
    axes.annotate(words, knee, (12, 10), "data", "offset points", color=MARK, fontweight="bold")


def _ends(found: Frontier) -> dict[int, str]:
    """Return what the ends of the curve are called."""
    first = "fewest" if found.axis.unit == "lines" else "curve begins"
    last = len(found.points) - 1
    return {0: first, last: "closest"} if last > 0 else {0: "closest"}
