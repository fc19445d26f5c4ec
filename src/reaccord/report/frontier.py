"""A frontier as plain data, CSV and text."""

from __future__ import annotations

from typing import Any

from reaccord.answer.formula import formula_rows
from reaccord.questions.curve import Frontier, Point
from reaccord.report.csv_table import Columns, csv_text
from reaccord.report.data import about, input_rows
from reaccord.report.layout import Column, aligned, counted, headed, paragraphs
from reaccord.report.quantities import decimals_for, exact_percent, in_unit, rough_percent
from reaccord.report.terminal import ended
from reaccord.report.verdict import measured, unnamed

OVER = "over the study's own limit"
BAR = 10
MOST_POINTS, THINNED = 40, 25
"""More points than these are thinned out to about so many for people; files have all."""


def frontier_data(found: Frontier) -> dict[str, Any]:
    """Return `frontier`'s data: points from the least of the axis to the closest formula."""
    study, key = found.study, found.axis.key
    knee = None if found.knee is None else {"point": found.knee, key: quantity_of(found, found.points[found.knee])}
    return {
        **about(study),
        "against": found.axis.name,
        "unit": found.axis.unit,
        "measure": study.settings.fit.measure,
        "scale": study.settings.fit.scale,
        "own_limit": found.own,
        "least": found.least,
        "begins": None if found.axis.whole else found.begins,
        "covered": found.covered,
        "points": [_point(point, found) for point in found.points],
        "knee": knee,
        "inputs": input_rows(study),
    }


def quantity_of(found: Frontier, point: Point) -> float:
    """Return where a point stands: a number of lines is the number allowed."""
    return point.ceiling if found.axis.whole else point.quantity


def _point(point: Point, found: Frontier) -> dict[str, Any]:
    quantity = quantity_of(found, point)
    return {
        found.axis.key: int(quantity) if found.axis.whole else quantity,
        "value": point.value,
        "before_rounding": point.before_rounding,
        "bound": point.fit.bound,
        "gap": point.fit.gap,
        "status": point.fit.answer.status,
        "misplaced_share": point.fit.judged.closeness.misplaced_share,
        "within_own_limit": found.own is None or quantity <= found.own * (1 + 1e-9),
        "formula": formula_rows(point.fit.judged),
    }


def frontier_csv(found: Frontier) -> str:
    """Write the curve, a point a row; a share has its sign."""
    columns: Columns = {
        found.axis.key: exact_percent if found.axis.unit == "share" else str,
        **dict.fromkeys(("value", "before_rounding", "bound"), str),
        **{"gap": exact_percent, "status": str, "lines_used": str, "misplaced_share": exact_percent, "mark": str},
    }
    points = enumerate(frontier_data(found)["points"])
    more = ({"lines_used": len(point["formula"]), "mark": "; ".join(marks(found, n))} | point for n, point in points)
    return csv_text(columns, more)


def frontier_text(found: Frontier, width: int) -> str:
    """Return the curve for people: the verdict, then the points."""
    columns = (
        Column(heading(found), right=True),
        Column("wrong %", right=True),
        Column("unnamed %", right=True),
        Column("lines used", right=True),
        Column(""),
        Column("", wraps=True),
    )
    most = max(wrong(point) for point in found.points)
    listed = _listed(found)
    rows = [_row(found, number, most) for number in listed]
    first, last = found.points[0], found.points[-1]
    parts = [
        headed(found.study.title, verdict(found), width),
        aligned(columns, rows, width),
        paragraphs((*_left_out(found, len(listed)), *_notes(found)), width),
    ]
    deviation = (
        f"{measured(found.study)} from {first.value:.4g} to {last.value:.4g}; --output csv has that of each point."
    )
    return ended(parts, f"{deviation} reaccord help closeness", width)


def wrong(point: Point) -> float:
    """Return how much of a point's formula is the wrong substance, in percent."""
    return 100 * point.fit.judged.closeness.misplaced_share


def heading(found: Frontier) -> str:
    """Return the axis with its unit."""
    units = {"g": ", g", "share": ", %", "ratio": ", of 1", "lines": " allowed"}
    return found.axis.label + units.get(found.axis.unit, "")


def shown(found: Frontier, quantity: float) -> str:
    """Write a quantity for people, in the unit of the heading."""
    widest = max((point.quantity for point in found.points), default=quantity)
    return in_unit(quantity, found.axis.unit, decimals_for(widest * 100, 4) if widest > 0 else 2)


def marks(found: Frontier, number: int) -> list[str]:
    """Return what there is to say of a point: the knee, the study's own limit."""
    point = found.points[number]
    said = ["knee"] if number == found.knee else []
    if found.own is not None and point.ceiling == found.own:
        said.append("the study's own limit")
    elif found.own is not None and quantity_of(found, point) > found.own * (1 + 1e-9):
        said.append(OVER)
    return said


def _listed(found: Frontier) -> list[int]:
    """Return the points that are shown: of many only some, but always the ends, the knee and the study's own limit."""
    last = len(found.points) - 1
    if found.axis.whole or len(found.points) <= MOST_POINTS:
        return list(range(last + 1))
    even = {round(step * last / (THINNED - 1)) for step in range(THINNED)}
    own = {number for number, point in enumerate(found.points) if point.ceiling == found.own}
    unproven = {number for number, point in enumerate(found.points) if point.fit.answer.status != "proven"}
    return sorted(even | own | unproven | ({found.knee} if found.knee is not None else set()))


def _left_out(found: Frontier, listed: int) -> list[str]:
    left_out = len(found.points) - listed
    return [f"{counted(left_out, 'point')} between these left out; --output csv has them all."] if left_out else []


def _row(found: Frontier, number: int, most: float) -> tuple[str, ...]:
    point = found.points[number]
    said = [words.replace("the study's own limit", "the study's limit") for words in marks(found, number)]
    if point.fit.answer.status != "proven":
        said.append(f"could be up to {rough_percent(point.fit.gap)} closer")
    return (
        shown(found, quantity_of(found, point)),
        f"{wrong(point):.1f}",
        f"{100 * unnamed(point.fit.judged):.1f}",
        str(len(point.fit.judged.lines)),
        "━" * max(1, round(BAR * wrong(point) / most)) if most > 0 else "",
        ", ".join(said),
    )


def verdict(found: Frontier) -> str:
    """Say from where to where the curve goes, and where its knee is."""
    unit = {"g": " g", "share": " %"}.get(found.axis.unit, "")

    def at(point: Point, what: str = "", label: str = "") -> str:
        return f"{wrong(point):.1f} %{what} ({label}{shown(found, quantity_of(found, point))}{unit})"

    first, last = found.points[0], found.points[-1]
    text = (
        at(last, " wrong", f"{found.axis.label} ")
        if first is last
        else (f"from {at(first, ' wrong', f'{found.axis.label} ')} to {at(last)}")
    )
    knee = "" if found.knee is None else f"; the knee of {'the curve' if found.covered else 'these points'} is at "
    return f"{text}, the closest{knee}{at(found.points[found.knee]) if found.knee is not None else ''}."


def _notes(found: Frontier) -> list[str]:
    lines = []
    cut_short = not found.covered and found.status != "proven"
    more = f"--points {2 * max(found.most, len(found.points))} finds more"
    if cut_short:
        lines.append("Not all that was asked for was found: a closer formula may lie between these points.")
    elif found.axis.whole:
        said = "Each number of lines up to the closest formula's is solved for itself."
        lines.append(said if found.covered else f"Numbers of lines between these were left out; {more}.")
    elif found.covered:
        lines.append("No formula is better than this curve by more than 1 % of its range (before rounding).")
    else:
        lines.append(f"Between two of these points the curve lies somewhere between theirs; {more}.")
    if not found.axis.whole:
        least = shown(found, found.least)
        far = (
            "is nearer to the target than an empty vial"
            if found.begins_at_nothing
            else f"has a deviation of {found.begins:.4g} or less"
        )
        lines.append(f"No formula below {least} {far}: the curve begins there.")
    if found.own is not None:
        lines.append(f"The study's own limit, {shown(found, found.own)}, was left aside.")
    return lines
