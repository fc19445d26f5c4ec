"""What is off as a picture: a row a constituent, what was wanted hollow, what is in the batch solid."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from reaccord.answer.judge import Judgement, Residual
from reaccord.domain.study import Study
from reaccord.findings import UsageError
from reaccord.report.compare import Compared, names_of, verdict
from reaccord.report.notes import Note, with_notes
from reaccord.report.off_picture import WIDTH, Drawn, Scale
from reaccord.report.off_target import named_cell, numbers, others, part_of_deviation
from reaccord.report.pictures import ACCENT, INK, PAPER, SOFT, bare, beside, cut, picture
from reaccord.report.verdict import verdict_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from reaccord.answer.fitted import Fit

MOST_ROWS = 120
"""What counts least beyond these is said in a line."""
MARKS = ("s", "D", "^", "v", "P", "X")
"""A shape a formula."""
SHADES = (ACCENT, "#1f5673", "#5b6d1f", "#6b3f7a", "#8a6a00", "#3d3d3d")
ROW, MORE = 0.2, 0.07
"""Inches of a row, and so many more for each further formula."""


def need_marks(formulas: int) -> None:
    """Raise `UsageError` if there are more formulas than shapes that tell them apart."""
    if formulas > len(MARKS):
        raise UsageError(f"a picture shows at most {len(MARKS)} formulas beside each other, not {formulas}.")


def fit_picture(found: Fit, noted: Iterable[Note], ending: str) -> bytes:
    """Return an answer's rows."""
    return residual_picture(found.study, {"": found.judged}, with_notes(verdict_text(found), noted), ending)


def compared_picture(found: Sequence[Compared], ending: str) -> bytes:
    """Return the rows of given formulas, beside each other if there are several."""
    names = names_of(found)
    judged = {name: one.judged for name, one in zip(names, found, strict=True)}
    return residual_picture(found[0].study, judged, verdict(found, names), ending)


def residual_picture(study: Study, found: Mapping[str, Judgement], says: str, ending: str) -> bytes:
    """Return every row of the target and every stranger, what counts most on top; formulas are judged by one study."""
    need_marks(len(found))
    judged = list(found.values())
    parts = [part_of_deviation(each.residuals, study.settings.fit.measure) for each in judged]
    of = [{r.row.label: r for r in each.residuals if r.achieved > 0 or r.kind == "named"} for each in judged]
    counts = {label: max(part.get(label, 0.0) for part in parts) for each in of for label in each}
    shown = sorted(counts, key=lambda label: (-counts[label], label))
    left = shown[MOST_ROWS:]
    rest = others(len(left), sum(parts[0].get(label, 0.0) for label in left), study.settings.fit.measure)
    rows = [[each.get(label) for each in of] for label in shown[:MOST_ROWS]]
    high = ROW + MORE * (len(judged) - 1)
    return picture(
        ending,
        study.title or "Untitled study",
        says,
        high * len(rows) + (0.95 if len(found) < 4 else 1.15),
        lambda axes: _paint(axes, rows, list(found), rest),
    )


def _paint(axes: Axes, rows: Sequence[Sequence[Residual | None]], names: Sequence[str], rest: str) -> None:
    """Draw the rows; one formula as bars, several as marks below each other."""
    scale = Scale([r for row in rows for r in row if r is not None])
    bare(axes, len(rows))
    axes.set_xlim(-0.012 * WIDTH, 1.012 * WIDTH)
    ticks = [(0.0, "0"), *((tick.place, tick.label) for tick in scale.ticks())]
    axes.set_xticks([place for place, _ in ticks], [label for _, label in ticks])
    axes.set_xlabel("% of the accord, on a square-root scale" + (f"\n{rest}" if rest else ""), color=SOFT)
    labels = []
    for number, row in enumerate(rows):
        there = next(r for r in row if r is not None)
        labels.append(cut(named_cell(there)))
        _wanted(axes, scale, there, number, len(row) == 1)
        for place, r in enumerate(row):
            if r is not None:
                _reached(axes, scale, r, number, (place, len(row)))
        if len(row) == 1:
            beside(axes, number, numbers(there))
    axes.set_yticks(range(len(rows)), labels)
    if len(names) == 1:
        beside(axes, -1.15, ("wanted %", "got %", "points"), color=SOFT)
    _legend(axes, names, [scale.drawn(r) for row in rows for r in row if r is not None])


def _wanted(axes: Axes, scale: Scale, r: Residual, number: int, on_bar: bool) -> None:
    """Draw what was wanted, a ring or brackets around a range; they stand out of a bar by a bright edge."""
    drawn = scale.drawn(r)
    marks: list[tuple[float, Any]] = [] if drawn.mark is None else [(drawn.mark, "o")]
    if drawn.band is not None:
        marks = [(end, _bracket(arm)) for end, arm in zip(drawn.band, (0.35, -0.35), strict=True)]
    for at, mark in marks:
        look: Any = {"marker": mark, "mfc": "none", "ms": 7 if mark == "o" else 9}
        if on_bar:
            axes.plot(at, number, mec=PAPER, mew=2.8, zorder=4, **look)
        axes.plot(at, number, mec=INK, mew=1.1, zorder=5 if on_bar else 2.5, **look)


def _bracket(arm: float) -> Any:
    """Return a bracket as the corners of a line, its back at the end of the range and its arms inward."""
    return [(arm, 1.0), (0.0, 1.0), (0.0, -1.0), (arm, -1.0), (0.0, -1.0), (0.0, 1.0)]


def _reached(axes: Axes, scale: Scale, r: Residual, number: int, place: tuple[int, int]) -> None:
    """Draw what is in the batch: a solid bar, or of several formulas each its own solid mark."""
    at, formula, of = scale.drawn(r).bar, *place
    if of == 1:
        axes.barh(number, at, height=0.46, color=ACCENT, zorder=3)
        return
    down = number + (formula - (of - 1) / 2) * 0.62 / of
    axes.plot(at, down, MARKS[formula], color=SHADES[formula], markersize=4.5, zorder=3)


def _legend(axes: Axes, names: Sequence[str], drawn: Sequence[Drawn]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    keys: list[Line2D | Patch] = []
    if any(each.mark is not None for each in drawn):
        keys.append(Line2D([], [], marker="o", ls="", mfc="none", mec=INK, ms=7, label="wanted"))
    if any(each.band for each in drawn):
        keys.append(Line2D([], [], marker=_bracket(0.35), ls="", color=INK, ms=9, label="a range in which all is well"))
    if len(names) == 1:
        keys.append(Patch(color=ACCENT, label="in the batch"))
    else:
        keys += [
            Line2D([], [], marker=mark, ls="", color=shade, ms=5, label=cut(name))
            for name, mark, shade in zip(names, MARKS, SHADES, strict=False)
        ]
    figure = axes.get_figure()
    if figure is not None:
        figure.legend(handles=keys, loc="outside lower left", ncols=3, frameon=False, labelcolor=SOFT, handlelength=1.4)
