"""Seeds of a drawn test: a few in the suite, more in the sweep's quick part, the most in the sweep alone."""

from __future__ import annotations

from itertools import pairwise

import pytest

SWEEP = (pytest.mark.sweep,)
QUICK = (pytest.mark.sweep, pytest.mark.quick)


def seeds(*ends: int) -> pytest.MarkDecorator:
    """Parametrise `seed`: in the suite up to the second of the ends, in the quick part to the third, then by hand."""
    drawn = [
        pytest.param(seed, marks=marks)
        for (first, end), marks in zip(pairwise(ends), ((), QUICK, SWEEP), strict=False)
        for seed in range(first, end)
    ]
    return pytest.mark.parametrize("seed", drawn)
