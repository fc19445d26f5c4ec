"""A programme with fewer columns."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import Made, Programme


def of_columns(programme: Programme, kept: NDArray[np.intp]) -> Programme:
    """Return the programme in which only these columns (sorted) may be used; limits that cannot bind are left out."""
    place = {int(old): new for new, old in enumerate(kept)}
    strengths = []
    for material in programme.strengths:
        left = [tuple(place[i] for i in columns if i in place) for columns in material]
        left = [columns for columns in left if columns]
        if len(left) > 1:
            strengths.append(tuple(left))
    limits = [replace(row, amounts=row.amounts[kept], used=row.used[kept]) for row in programme.limits]
    return replace(
        programme,
        columns=tuple(programme.columns[i] for i in kept),
        content=programme.content[:, kept],
        basis=programme.basis[kept],
        minimum=programme.minimum[kept],
        maximum=programme.maximum[kept],
        limits=tuple(row for row in limits if row.most < 0 or (row.amounts > 0).any() or row.used.any()),
        strengths=tuple(strengths),
        step=programme.step[kept],
        made=tuple(
            Made(place[made.stock], place[made.column], made.least_g)
            for made in programme.made
            if made.stock in place and made.column in place
        ),
    )
