"""The frontier as a picture (SVG or PNG), drawn with matplotlib if that is installed."""

from __future__ import annotations

import io
from importlib.util import find_spec
from typing import Any

from reaccord.findings import UsageError
from reaccord.report.frontier import heading, quantity_of, shown
from reaccord.studies.frontier import Frontier

WIDE = 20.0
"""A deviation that falls to less than this part gets a logarithmic axis."""
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

    with mpl.rc_context({"svg.hashsalt": "reaccord", "svg.fonttype": "none", "font.size": 9}):
        figure = Figure(figsize=(7.2, 4.6), layout="constrained")
        _draw(figure.add_subplot(), found)
        stream = io.BytesIO()
        figure.savefig(stream, format=form, dpi=150, metadata={"Date": None} if form == "svg" else None)
    return stream.getvalue()


def _draw(axes: Any, found: Frontier) -> None:
    factor = 100 if found.axis.unit == "share" else 1
    across = [quantity_of(found, point) * factor for point in found.points]
    values = [point.value for point in found.points]
    axes.plot(across, values, color=LINE, linewidth=1.2, marker="o", markersize=3.5, label="closest formula")
    unproven = [n for n, point in enumerate(found.points) if point.fit.answer.status != "proven"]
    if unproven:
        places = [across[n] for n in unproven], [values[n] for n in unproven]
        axes.plot(*places, "o", color="white", markeredgecolor=LINE, markersize=5, label="not proven")
    if found.knee is not None:
        label = f"knee, {shown(found, quantity_of(found, found.points[found.knee]))}"
        axes.plot(across[found.knee], values[found.knee], "D", color=MARK, markersize=7, label=label)
    if found.own is not None and across[0] <= found.own * factor <= across[-1]:
        axes.axvline(
            found.own * factor, color=LIMIT, linestyle="--", label=f"the study's own limit, {shown(found, found.own)}"
        )
    fit = found.study.settings.fit
    if min(values) > 0 and max(values) > WIDE * min(values):
        axes.set_yscale("log")
    else:
        axes.set_ylim(bottom=0)
    units = {"per kg": " of concentrate without carrier (money as in the tables)", "lines": " used at most"}
    axes.set_xlabel(heading(found) + units.get(found.axis.unit, ""))
    axes.set_ylabel(f"deviation ({fit.measure}, {fit.scale}; no unit)")
    axes.set_title(f"{found.study.title or 'Untitled study'}: closeness against {found.axis.label}")
    axes.grid(visible=True, linewidth=0.3)
    axes.legend(frameon=False)
