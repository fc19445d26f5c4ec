"""A study changed as at the desk, answered from the answer before: the verdict and the closeness of an answer anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from tests.random_studies import draw
from tests.seeds import seeds

from reaccord.answer.amounts import amounts_of
from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.contract import Budget
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.programme import state
from reaccord.study import changed

GAP = 1e-3


def steps(study: Study, answer: Fit) -> Iterator[Study]:
    cost = answer.judged.totals.cost_per_kg
    if cost is not None:
        yield changed.with_keys(study, "limits", cost_per_kg=0.99 * cost)
    yield changed.with_keys(study, "limits", lines=len(answer.judged.lines))
    yield changed.with_keys(study, "limits", lines=max(len(answer.judged.lines) - 1, 1))
    entry = study.settled.target[0]
    yield changed.with_weight(study, entry.label, 2 * entry.weight)
    for line in answer.judged.lines:
        if line.stock.recipe is None:
            yield changed.without_bottle(study, line.stock.key)


def _of(study: Study, before: Fit | None) -> Fit | type[Exception]:
    try:
        return fit(study, Budget(seconds=20), before=before)
    except (NoFormula, NoAnswer) as none:
        return type(none)


@seeds(0, 2, 12, 200)
def test_as_an_answer_anew(seed: int) -> None:
    try:
        study = draw(seed, measure="squares").study()
    except InvalidInput:
        pytest.skip("no study")
    answer = _of(study, None)
    if not isinstance(answer, Fit):
        pytest.skip("nothing to begin from")
    several = steps(study, answer)
    while True:
        try:
            other = next(several, None)
        except InvalidInput:  # an amount asks for the bottle
            break
        if other is None:
            break
        cold, warm = _of(other, None), _of(other, answer)
        if not isinstance(cold, Fit) or not isinstance(warm, Fit):
            assert warm == cold
            continue
        assert warm.answer.status == cold.answer.status
        assert warm.bound <= cold.judged_before.closeness.value * (1 + 1e-9) + 1e-9
        assert cold.bound <= warm.judged_before.closeness.value * (1 + 1e-9) + 1e-9
        assert not warm.judged.broken
        if cold.answer.status == "proven":
            assert warm.gap <= GAP


def test_begins_where_stocks_stand_elsewhere() -> None:
    study = next(s for s in (draw(seed, measure="squares").study() for seed in range(5)) if len(s.stocks) > 3)
    fewer = replace(study, stocks=study.stocks[1:])
    grams = {stock.key: 1.0 + place for place, stock in enumerate(study.stocks)}
    found = amounts_of(state(fewer), fewer, grams)
    assert found[: len(fewer.stocks)].tolist() == [grams[stock.key] for stock in fewer.stocks]
