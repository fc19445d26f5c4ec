"""Pure single chemicals alone: what is missing is filled by the rest in proportion.

Common practice, no source: a perfumer who lacks a constituent leaves it out and keeps the ratios of the others.
It also follows by hand from the measure: with Pearson's weights 1 / t the optimum of sum (y - t)^2 / t on
sum y = 1 has (y - t) / t equal for all that can move.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from tests.seeds import seeds

from reaccord.answer.fit import fit
from reaccord.contract import Budget
from reaccord.study.load import study_from_frames

SETTINGS = """
[target]
table = "target.csv"
[shelf]
bottles = "bottles.csv"
[batch]
accord_g = {batch}
"""


@seeds(0, 20, 60)
def test_ratios_are_kept_whatever_is_missing(seed: int) -> None:
    rng = np.random.default_rng((11, seed))
    count = int(rng.integers(2, 40))
    shares = np.round(rng.lognormal(0, 1.3, count), 4) + 0.02
    shares = shares * rng.uniform(0.6, 1.0) / shares.sum()
    shares = np.maximum(shares, 0.0011)  # above the floor of 0.1 %
    percent = np.round(100 * shares * min(1.0, 1.0 / shares.sum()), 6)
    on_shelf = rng.random(count) < rng.uniform(0.3, 1.0)
    on_shelf[int(rng.integers(count))] = True
    names = [f"constituent {k:02d}" for k in range(count)]
    bottles = [{"material": f"Bottle {n}", "constituent": n, "purity": "100"} for n, on in zip(names, on_shelf) if on]  # noqa: B905
    study = study_from_frames(
        SETTINGS.format(batch=float(rng.choice([1.0, 10.0, 5000.0]))),
        {
            "target.csv": pd.DataFrame({"constituent": names, "analysis": [repr(float(p)) for p in percent]}),
            "bottles.csv": pd.DataFrame(bottles).sample(frac=1, random_state=seed),
        },
    )
    found = fit(study, Budget(gap=1e-12), shorten=False)
    target = percent / percent.sum()
    expected = np.where(on_shelf, target, 0.0) / target[on_shelf].sum()
    achieved = {residual.row.label: residual.achieved for residual in found.judged.residuals}
    assert [achieved[name] for name in names] == pytest.approx(expected, abs=1e-9)
