"""A picture as a file: what can be written, what draws it, and the look that all of them share."""

from __future__ import annotations

import io
import textwrap
import warnings
from collections.abc import Callable, Sequence
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from reaccord.findings import UsageError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

FORMS = (".svg", ".png", ".pdf")
"""Endings of a file that is a picture."""
INK, ACCENT, SOFT, RULE, PAPER = "#1b1b1b", "#7a3b12", "#595959", "#c8c8c8", "#ffffff"
"""The page's own colours. They only repeat what shape and place say."""
WIDTH, MARGIN = 8.4, 0.12
"""Inches."""
TITLE, TEXT = 11, 9
"""Points of the fonts."""
LETTERS = 116
"""Letters of the sentence below the title that stand on one line."""
LINE, HEAD = 0.17, 0.44
"""Inches of a line of that sentence, and of the title with what is left blank."""
LONGEST = 38
"""Letters of a name beside a row; of a longer one the end is cut off."""
DOTS_PER_INCH = 150
_UNDATED = {".svg": {"Date": None}, ".pdf": {"CreationDate": None}, ".png": {}}


def need_library() -> None:
    """Raise `UsageError` if there is nothing to draw with."""
    if find_spec("matplotlib") is None:
        raise UsageError("a picture needs matplotlib; install it with: pip install 'reaccord[plots]'")


def picture(ending: str, title: str, says: str, height: float, paint: Callable[[Axes], None]) -> bytes:
    """Return a picture with its title and a sentence above; the same values give the same bytes.

    Parameters
    ----------
    ending
        One of `FORMS`.
    height
        Inches of what `paint` draws, with the words around it.

    Raises
    ------
    UsageError
        If there is nothing to draw with.
    """
    need_library()
    import matplotlib as mpl
    from matplotlib.figure import Figure

    sentence = textwrap.wrap(says, LETTERS)
    head = HEAD + LINE * len(sentence)
    whole, stream = height + head, io.BytesIO()
    with mpl.rc_context(_settings()), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from", UserWarning)  # a letter the font lacks is a box
        figure = Figure(figsize=(WIDTH, whole), layout="constrained")
        edge, top = MARGIN / WIDTH, 1 - MARGIN / whole
        rect = (edge, MARGIN / whole, 1 - 2 * edge, 1 - head / whole - MARGIN / whole)
        figure.get_layout_engine().set(rect=rect, w_pad=0, h_pad=0)  # type: ignore[union-attr, call-arg]
        figure.text(edge, top, cut(title, 2 * LONGEST), fontsize=TITLE, fontweight="bold", va="top")
        below = top - 0.21 / whole
        figure.text(edge, below, "\n".join(sentence), fontsize=TEXT, color=SOFT, va="top", linespacing=1.25)
        paint(figure.add_subplot())
        figure.savefig(stream, format=ending[1:], dpi=DOTS_PER_INCH, metadata=_UNDATED[ending])
    return stream.getvalue()


def _settings() -> Any:
    return {
        **{"svg.hashsalt": "reaccord", "svg.fonttype": "none", "pdf.fonttype": 42},
        **{"text.parse_math": False, "axes.unicode_minus": True},  # a $ in a name is a $
        **{"font.size": TEXT, "font.family": "DejaVu Sans", "text.color": INK, "axes.labelcolor": INK},
        **{"axes.edgecolor": RULE, "xtick.color": SOFT, "ytick.color": INK, "savefig.facecolor": PAPER},
    }


def cut(name: str, most: int = LONGEST) -> str:
    """Return a name, its end cut off where it is too long to stand beside a row."""
    return name if len(name) <= most else f"{name[: most - 1].rstrip()}…"


def beside(axes: Axes, row: float, cells: Sequence[str], first: float = 76, color: str = INK) -> None:
    """Write numbers behind a row, in columns that end below each other; the first so many points from the rows."""
    for place, cell in enumerate(cells):
        axes.annotate(
            cell,
            xy=(1.0, row),
            xycoords=("axes fraction", "data"),
            xytext=(first + 46 * place, 0),
            textcoords="offset points",
            ha="right",
            va="center",
            color=color,
            annotation_clip=False,
        )


def bare(axes: Axes, rows: int) -> None:
    """Take away the frame and draw a line behind each row: the first row is on top."""
    axes.set_ylim(rows - 0.4, -0.6)
    axes.spines[:].set_visible(False)
    axes.tick_params(length=0, pad=6)
    axes.tick_params(axis="x", top=True, labeltop=True)
    axes.grid(axis="x", color=RULE, linewidth=0.5)
    between = [row + 0.5 for row in range(rows - 1)]
    axes.hlines(between, 0, 1, color=RULE, linewidth=0.25, transform=axes.get_yaxis_transform())
    axes.set_axisbelow(True)
