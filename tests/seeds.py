"""What a drawn test draws: a little in the suite, more in the sweep's quick part, the most in the sweep alone."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

SWEEP = (pytest.mark.sweep,)
QUICK = (pytest.mark.sweep, pytest.mark.quick)


def seeds(*ends: int) -> pytest.MarkDecorator:
    """Parametrise `seed`: in the suite up to the second of the ends, in the quick part to the third, then by hand."""
    parts = [range(first, end) for first, end in pairwise(ends)]
    marked = zip(parts, ((), QUICK, SWEEP), strict=False)
    return pytest.mark.parametrize("seed", [pytest.param(seed, marks=marks) for part, marks in marked for seed in part])


def drawn(first: Any, *more: Any, quick: int | None = None) -> list[Any]:
    """Return values of one parameter: the first in the suite, so many (all) of the others quickly, the rest by hand."""
    marks = [QUICK if quick is None or place < quick else SWEEP for place in range(len(more))]
    return [pytest.param(first), *(pytest.param(one, marks=m) for one, m in zip(more, marks, strict=True))]
