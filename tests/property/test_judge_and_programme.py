"""Judge and programme, written apart, agree on the deviation and on what holds, for random amounts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from tests.random_studies import amounts_for, draw
from tests.seeds import seeds

from reaccord.answer.fit import fit
from reaccord.answer.judge import judge
from reaccord.contract import FloatArray
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import NoFormula
from reaccord.programme import state


def columns(study: Study, amounts: Mapping[StockKey, float]) -> FloatArray:
    """Return amounts by column; helper columns are the grams that have to be made."""
    programme = state(study)
    poured = np.array([amounts.get(stock.key, 0.0) for stock in study.stocks])
    helpers = np.zeros(len(programme.columns) - len(poured))
    found = np.concatenate([poured, helpers])
    used = (found > 0).astype(float)
    for column in range(len(poured), len(found)):
        rows = [r for r in programme.limits if r.key.kind == "made" and r.amounts[column] == -1]
        found[column] = max(float(r.amounts @ found + r.used @ used) for r in rows)
    return found


def agree(study: Study, amounts: Mapping[StockKey, float]) -> bool:
    """Check that both say the same of a formula; return whether it holds every limit."""
    x, programme = columns(study, amounts), state(study)
    if float(programme.basis @ x) <= 0:
        with pytest.raises(ValueError, match="holds none"):
            judge(study, amounts)
        return False
    programme = replace(programme, batch_g=float(programme.basis @ x))  # shares are of the basis reached
    judged = judge(study, amounts)
    assert judged.closeness.value == pytest.approx(programme.value(x), rel=1e-12, abs=1e-15)
    poured = {(key.material, key.strength) for key, grams in amounts.items() if grams > 0}
    needless = [
        s.recipe is not None
        and (amounts.get(s.key, 0.0) > s.recipe.needed_g or (s.key.material, s.recipe.source.strength) in poured)
        for s in study.stocks
        if amounts.get(s.key, 0.0) > 0
    ]
    excess = programme.excess(x)
    if any(needless):  # a dilution where the neat amount could be weighed: no limit, but no programme pours it
        assert excess > 0
    elif not 1e-11 < excess < 1e-7:
        assert bool(judged.broken) == (excess > 1e-9), (excess, judged.broken)
    return not judged.broken


@seeds(500, 520, 560)
def test_same_verdict_on_random_amounts(seed: int) -> None:
    study = draw(seed).study()
    for trial in range(8):
        agree(study, amounts_for(study, 100 * seed + trial))


@seeds(560, 570, 600)
def test_same_verdict_around_a_fit(seed: int) -> None:
    """Amounts near the optimum hold or break limits by a step or two."""
    study = draw(seed, balance=True).study()
    try:
        found = fit(study)
    except NoFormula:
        return
    assert agree(study, found.amounts)
    rng = np.random.default_rng(seed)
    steps = {stock.key: stock.step_g for stock in study.stocks}
    for _ in range(8):
        moved = {
            key: max(0.0, float(f"{grams + int(rng.integers(-2, 3)) * steps[key]:.12g}"))
            for key, grams in found.amounts.items()
        }
        agree(study, moved)
