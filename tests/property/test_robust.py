"""The formula for the whole spread is no worse on fresh draws, and the closed form is what draws come to."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import count, islice

import numpy as np
import pytest
from tests.random_studies import draw

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.contract import Budget
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.questions.spread.spread import Spread, spread
from reaccord.questions.spread.variation import Variation
from reaccord.questions.spread.watched import Watched

GAP = 1e-6
"""Finer than what variation does to the deviation: else the gap would be what is compared."""


def answered(seeds: Iterator[int]) -> Iterator[tuple[int, Fit]]:
    """Yield seeded studies that have a formula whose bottles vary."""
    for seed in seeds:
        try:
            study = draw(seed, measure="squares").study()
            found = fit(study, Budget(GAP, 20))
        except (InvalidInput, NoFormula, NoAnswer):
            continue
        if Watched(study, Variation(study), found.amounts).sets:
            yield seed, found


def robust_on_fresh_draws(found: Fit) -> Spread:
    return spread(found.study, found.amounts, 10_000, 7, robust=True, budget=Budget(GAP, 20))


def check_no_worse(seed: int, found: Fit) -> None:
    compared = robust_on_fresh_draws(found).compared
    assert compared is not None
    slack = 3 * compared.nominal.standard_error
    assert compared.robust.mean <= compared.nominal.mean + slack, seed
    assert compared.expected[1] <= compared.expected[0] * (1 + 1e-12), seed
    assert not [state.label for state in compared.robust.judged.broken], seed


def test_robust_is_no_worse_on_fresh_draws() -> None:
    for seed, found in islice(answered(count(100)), 3):
        check_no_worse(seed, found)


@pytest.mark.sweep
def test_robust_is_no_worse_in_thirty_studies() -> None:
    seeds = []
    for seed, found in islice(answered(count(1000)), 30):
        check_no_worse(seed, found)
        seeds.append(seed)
    assert len(seeds) == 30


def shares_only(seed: int) -> Study:
    """Return a study whose rows are all shares: there the closed form is exact."""
    draft = draw(seed, measure="squares")
    for row in draft.tables["target.csv"]:
        for name in ("low", "high"):
            row.pop(name, None)
        for name, cell in row.items():
            if name not in {"constituent", "weight"} and (cell is None or cell in {"tr", "nd"}):
                row[name] = "3"
    draft.settings["target"].pop("combine", None)
    draft.settings["target"].pop("rest", None)
    return draft.study()


@pytest.mark.parametrize("seed", [3, 11, 19, 27])
def test_the_closed_form_is_the_mean_of_the_draws(seed: int) -> None:
    """All rows shares but the undeclared one, whose band is left out here by a factor of 0."""
    from dataclasses import replace

    study = shares_only(seed)
    rows = tuple(r._replace(factor=0.0) if r.kind == "undeclared" else r for r in study.target.rows)
    study = replace(study, target=replace(study.target, rows=rows))
    keys = [stock.key for stock in study.stocks]
    amounts = {key: 1.0 + 0.1 * place for place, key in enumerate(keys)}
    found = spread(study, amounts, 40_000, seed)
    assert found.expected is not None
    assert found.expected > found.outcome.judged.closeness.value * 0.5
    assert math.isclose(found.outcome.mean, found.expected, abs_tol=4 * found.outcome.standard_error)


def test_the_nominal_contents_come_back() -> None:
    """At the stated shares the contents that vary are those of the stocks, blends inside blends included."""
    for seed in range(12):
        try:
            study = draw(seed).study()
        except InvalidInput:
            continue
        variation = Variation(study)
        watched = Watched(study, variation, [stock.key for stock in study.stocks])
        stated = np.array([row.share - row.mean for row in variation.rows])
        products = np.array([np.prod(stated[list(rows)]) for rows in watched.sets]).reshape(-1)
        for stock in study.stocks:
            parts = watched.of_formula({stock.key: 1.0})
            held = parts[0] + products @ parts[1:]
            for number, row in enumerate(study.target.rows):
                typical = stock.content.typical
                real = (
                    stock.content.undeclared
                    if row.kind == "undeclared"
                    else sum(typical.get(name, 0.0) for name in row.members)
                )
                assert held[number] == pytest.approx(real, abs=1e-12)
            assert held[watched.carrier] == pytest.approx(stock.carrier_share, abs=1e-9)
