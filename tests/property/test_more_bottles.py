"""One more bottle never makes the optimum worse: the new bound is at most the old value."""

from __future__ import annotations

import math

import numpy as np
from tests.random_studies import Draft, draw
from tests.seeds import seeds

from reaccord.answer.fit import fit
from reaccord.domain.study import Study
from reaccord.findings import NoFormula


def with_bottle(draft: Draft, seed: int) -> Draft:
    """Return the draft with one more bottle: a single, or a natural that also holds something new."""
    rng = np.random.default_rng((5, seed))
    wider = draft.copy()
    bottles = wider.tables["bottles.csv"]
    price = f"{rng.uniform(5, 300):.2f}"
    if rng.random() < 0.5:
        name = str(wider.tables["target.csv"][0]["constituent"])
        bottles.append({"material": "Newcomer", "constituent": name, "purity": "93.5", "price_per_kg": price})
        return wider
    bottles.append({"material": "Newcomer", "price_per_kg": price})
    named = [str(row["constituent"]).split(" + ")[0] for row in wider.tables["target.csv"]]
    rows = wider.tables.setdefault("compositions.csv", [])
    wider.settings["shelf"]["compositions"] = "compositions.csv"
    for part, share in zip([*named[:3], "something new"], ["41", "30", "12.5", "8"], strict=True):
        rows.append({"material": "Newcomer", "part": part, "share": share})
    return wider


def value_and_bound(study: Study) -> tuple[float, float]:
    try:
        found = fit(study)
    except NoFormula:
        return math.inf, math.inf
    return found.judged_before.closeness.value, found.bound


@seeds(100, 108, 140, 500)
def test_another_bottle_never_hurts(seed: int) -> None:
    draft = draw(seed, measure="squares")
    old_value, _ = value_and_bound(draft.study())
    _, new_bound = value_and_bound(with_bottle(draft, seed).study())
    assert new_bound <= old_value * (1 + 1e-9) + 1e-12
