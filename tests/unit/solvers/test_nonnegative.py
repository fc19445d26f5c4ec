from __future__ import annotations

import numpy as np
from scipy.optimize import nnls

from reaccord.solvers.nonnegative import nonnegative


def test_nearest_as_scipys_own() -> None:
    rng = np.random.default_rng(20261129)
    for _ in range(300):
        height, count = int(rng.integers(1, 15)), int(rng.integers(0, 12))
        columns = rng.normal(size=(height, count)) * 10 ** rng.uniform(-2, 2, count)
        up = rng.uniform(size=(height, 1))
        columns = np.hstack([columns, up, -up])
        wanted = rng.normal(size=height) * 10 ** rng.uniform(-6, 3)
        size = np.linalg.norm(columns, axis=0)
        found = nonnegative(columns, wanted)
        left = np.linalg.norm(columns @ found - wanted)
        least = nnls(columns / size, wanted)[1]
        assert (found >= 0).all()
        assert least * (1 - 1e-12) <= left <= least + 1e-4 * np.linalg.norm(wanted)


def test_nothing_is_wanted_or_nothing_there() -> None:
    assert nonnegative(np.array([[1.0, 0.0]]), np.zeros(1)).tolist() == [0.0, 0.0]
    assert nonnegative(np.zeros((2, 1)), np.ones(2)).tolist() == [0.0]
