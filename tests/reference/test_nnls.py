"""Without balance and limits the closest formula is a nonnegative least-squares problem: `scipy.optimize.nnls`.

The programme is min |B x - b|^2 over x >= 0 with the batch row c'x = 1 (amounts over G). On that row b = b c'x, so
it is min |D x|^2 with D = B - b c'. Take nnls of the rows D and c' against 0 and 1, which minimises
|D x|^2 + (c'x - 1)^2 without any equality. Write x = s w with c'w = 1: the best s gives |D w|^2 / (1 + |D w|^2), which
grows with |D w|^2; so w = x / c'x is exactly the optimum with the batch row. (The same step turns least-distance
programming into nnls: C. L. Lawson and R. J. Hanson, Solving Least Squares Problems, 1974, chapter 23, from memory.)
Bands would not be linear: the drafts here have none, and the target adds up to 100 %, so that no undeclared mass is
free either.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import nnls
from tests.seeds import seeds

from reaccord.answer.fit import fit
from reaccord.contract import Budget
from reaccord.study.load import study_from_frames

SETTINGS = """
[target]
table = "target.csv"
[shelf]
bottles = "bottles.csv"
compositions = "compositions.csv"
[batch]
accord_g = 10
[fit]
scale = "{scale}"
"""
FLOOR, FOREIGN_FLOOR = 0.001, 0.05
POWER = {"equal": 0.0, "proportional": -0.5, "relative": -1.0}


def shelf(rng: np.random.Generator, constituents: int, bottles: int) -> np.ndarray:
    """Return contents in percent, shape (constituents, bottles); what is left to 100 is undeclared."""
    content = np.zeros((constituents, bottles))
    for i in range(bottles):
        size = int(rng.integers(1, constituents + 1))
        parts = rng.choice(constituents, size, replace=False)
        shares = rng.dirichlet(np.full(size, 0.6)) * rng.uniform(0.8, 1.0) * 100
        content[parts, i] = np.round(shares, 3)
    content[0, np.flatnonzero(content[: constituents // 2].sum(axis=0) == 0)] = 5.0
    content[:, content.sum(axis=0) > 100] *= 0.9
    return np.round(content, 3)


@pytest.mark.parametrize("scale", ["equal", "proportional", "relative"])
@seeds(0, 7, 20)
def test_same_optimum_as_nnls(seed: int, scale: str) -> None:
    rng = np.random.default_rng((13, seed))
    constituents, bottles = int(rng.integers(4, 16)), int(rng.integers(2, 20))
    named = max(2, constituents // 2 + 1)
    content = shelf(rng, constituents, bottles)
    target = np.round(rng.dirichlet(np.ones(named)) * 99, 3) + 1e-3
    target[0] += 100 - target.sum()
    names = [f"constituent {k:02d}" for k in range(constituents)]
    study = study_from_frames(
        SETTINGS.format(scale=scale),
        {
            "target.csv": pd.DataFrame({"constituent": names[:named], "S": [f"{p:.3f}" for p in target]}),
            "bottles.csv": pd.DataFrame({"material": [f"Bottle {i:02d}" for i in range(bottles)]}),
            "compositions.csv": pd.DataFrame(
                [
                    {"material": f"Bottle {i:02d}", "part": names[j], "share": f"{content[j, i]:.3f}"}
                    for j, i in np.argwhere(content > 0)
                ]
            ),
        },
    )
    found = fit(study, Budget(gap=1e-10), shorten=False)  # the closest of all
    share = np.concatenate([target / target.sum(), np.zeros(constituents - named), [0.0]])
    floor = np.where(share > 0, np.maximum(share, FLOOR), FOREIGN_FLOOR)
    factor = floor ** POWER[scale]
    rows = np.vstack([content, 100 - content.sum(axis=0)]) / 100
    basis = rows[:named].sum(axis=0)
    distance = factor[:, None] * (rows - np.outer(share, basis))
    amounts, _ = nnls(np.vstack([distance, basis]), np.append(np.zeros(len(share)), 1.0))
    expected = float(np.sum((distance @ (amounts / (basis @ amounts))) ** 2))
    assert found.answer.status == "proven"
    assert found.judged.closeness.value == pytest.approx(expected, rel=1e-7, abs=1e-9)
    assert found.bound <= expected * (1 + 1e-9) + 1e-12
