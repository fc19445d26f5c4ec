"""How far each row moves with natural variation, as a picture: a line from the 5 % to the 95 % of the draws."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from reaccord.report.layout import counted
from reaccord.report.off_picture import WIDTH, Scale
from reaccord.report.pictures import ACCENT, INK, PAPER, SOFT, bare, beside, cut, picture
from reaccord.report.quantities import signed
from reaccord.report.spread import moving, of_two, verdict

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from reaccord.questions.spread.spread import Spread

MOST_ROWS = 120
ROW = 0.22
CLOSE = 38.0
"""Units of the scale: both sides of nothing share the room that one side has elsewhere."""
QUANTILES = ("q05", "q50", "q95")


def spread_picture(spread: Spread, ending: str) -> bytes:
    """Return the rows that move, what moves most on top; of two lots alone the line is from one to the other."""
    rows = moving(spread)
    height = ROW * max(len(rows[:MOST_ROWS]), 1) + 1.1
    title = spread.study.title or "Untitled study"
    return picture(ending, title, verdict(spread), height, lambda axes: _paint(axes, spread, rows))


def _paint(axes: Axes, spread: Spread, rows: Sequence[dict[str, Any]]) -> None:
    shown = rows[:MOST_ROWS]
    names = ("nominal", *QUANTILES)
    scale = Scale.up_to(max((abs(row[name]) for row in shown for name in names), default=0.01))
    bare(axes, max(len(shown), 1))
    axes.set_xlim(-1.03 * WIDTH, 1.03 * WIDTH)
    ticks = [(0.0, "0")]
    for tick in scale.ticks(CLOSE):
        ticks += [(sign * tick.place, f"{mark}{tick.label}" if tick.label else "") for sign, mark in _SIDES]
    axes.set_xticks([at for at, _ in ticks], [label for _, label in ticks])
    rest = len(spread.study.target.rows) - len(shown)
    axes.set_xlabel(
        "off the target, points of the accord, on a square-root scale"
        + (f"\n{counted(rest, 'more row')} {'moves' if rest == 1 else 'move'} less" if rest else ""),
        color=SOFT,
    )
    axes.axvline(0, color=SOFT, linewidth=1)
    axes.set_yticks(range(len(shown)), [cut(row["constituent"]) for row in shown])
    two = of_two(spread)
    columns = [name for name in QUANTILES if not (two and name == "q50")]
    for number, row in enumerate(shown):
        _row(axes, number, {name: _place(scale, row[name]) for name in names}, two)
        beside(
            axes,
            number,
            [signed(row[name] * 100, 2) for name in columns],
            first=44,
        )
    beside(axes, -1.15, ["least", "most"] if two else ["5 %", "50 %", "95 %"], first=44, color=SOFT)
    _legend(axes, two)


_SIDES = ((1, "+"), (-1, "−"))


def _place(scale: Scale, off: float) -> float:
    return scale.place(abs(off)) * (-1 if off < 0 else 1)


def _row(axes: Axes, number: int, at: dict[str, float], two: bool) -> None:
    axes.plot([at["q05"], at["q95"]], [number] * 2, color=ACCENT, linewidth=3, solid_capstyle="butt", zorder=3)
    axes.plot([at["q05"], at["q95"]], [number] * 2, "|", color=ACCENT, ms=9, mew=1.6, zorder=3)
    if not two:
        axes.plot(at["q50"], number, "o", color=ACCENT, ms=6.5, zorder=4)
    axes.plot(at["nominal"], number, "D", mfc="none", mec=PAPER, ms=7, mew=2.6, zorder=5)
    axes.plot(at["nominal"], number, "D", mfc="none", mec=INK, ms=7, mew=1.1, zorder=6)


def _legend(axes: Axes, two: bool) -> None:
    from matplotlib.lines import Line2D

    ends = "between the two lots" if two else "from the 5 % to the 95 % of the draws"
    keys = [Line2D([], [], color=ACCENT, linewidth=3, marker="|", ms=9, mew=1.6, label=ends)]
    if not two:
        keys.append(Line2D([], [], ls="", marker="o", color=ACCENT, ms=6.5, label="in the middle"))
    keys.append(Line2D([], [], ls="", marker="D", mfc="none", mec=INK, ms=7, label="as stated"))
    figure = axes.get_figure()
    if figure is not None:
        figure.legend(handles=keys, loc="outside lower left", ncols=3, frameon=False, labelcolor=SOFT, handlelength=1.8)
