"""Other formulas nearly as close, and the ranges of all, against SCIP: what differs told by marks of its own."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import pytest
from tests.random_studies import draw
from tests.scip_beside import NOISE, deviation, length, minimised, root
from tests.seeds import drawn

from reaccord.contract import Budget, Programme
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.programme import state
from reaccord.questions.alternatives import Alternatives, Differing, alternatives
from reaccord.questions.amount_range import AmountRange
from reaccord.questions.cheapest import Within
from reaccord.questions.moved_apart import Moved
from reaccord.solvers.statement import Statement

ABOVE, DROPPED = (0.05, 0.3, 2.0), (1, 2)
LITTLE = 1e-4
"""Of the batch: amounts that SCIP's tolerances may move."""


def check(seed: int) -> Counter[str]:
    """Compare one study; count what came of each question."""
    try:
        study, differing = draw(seed).study(), Differing(DROPPED[seed % 2])
        found = alternatives(study, Within(above=ABOVE[seed % 3]), 2, differing, Budget(seconds=60.0))
    except (InvalidInput, NoFormula, NoAnswer):
        return Counter(["no study"])
    programme = state(study)
    came: Counter[str] = Counter()
    used = [{line.stock.key.material for line in found.closest.judged_before.lines}]
    for number in range(len(found.formulas) + found.complete):
        came[one(found, programme, used, number)] += 1
        if number < len(found.formulas):
            used.append({line.stock.key.material for line in found.formulas[number].judged.lines})
    if found.ranges:
        came[ends(found, programme, found.ranges[seed % len(found.ranges)])] += 1
    return came


def one(found: Alternatives, programme: Programme, used: list[set[str]], number: int) -> str:
    """Compare one formula, or that there is none."""
    size = max(root(found.within, programme), 1e-3)
    said = minimised(programme, lambda it: without(it, found.study, programme, used, found.differing.bottles), size)
    if said is None:
        return "SCIP abstained"
    least = deviation(said.value * size, programme)
    if number == len(found.formulas):
        assert least >= found.within * (1 - NOISE) - 1e-9, "SCIP has one more"
        return "agreed: no more"
    formula = found.formulas[number]
    assert formula.value <= found.within * (1 + 1e-8) + 1e-9
    assert not formula.judged.broken or formula.amounts
    for materials in used:
        left = materials - {line.stock.key.material for line in formula.judged.lines}
        assert len(left) >= found.differing.bottles
    if formula.status != "proven":
        return "we abstained"
    assert least >= formula.bound * (1 - NOISE) - 1e-7, "SCIP's is closer"
    assert deviation(said.bound * size, programme) <= formula.value * (1 + NOISE) + 1e-7
    return "agreed"


def without(
    said: Statement, study: Study, programme: Programme, used: list[set[str]], dropped: int
) -> tuple[Any, list[Any]]:
    import cvxpy as cp

    names = sorted(set().union(*used))
    marks = cp.Variable(len(names), boolean=True)
    rules = [
        said.used[i] <= marks[names.index(stock.key.material)]
        for i, stock in enumerate(study.stocks)
        if stock.key.material in names
    ]
    rules += [sum(marks[names.index(m)] for m in sorted(one)) <= len(one) - dropped for one in used]
    return length(said, programme), rules


def check_moved(seed: int) -> Counter[str]:
    """Compare the closest formula that moves so much mass from the closest of all."""
    share, above = (0.1, 0.25, 0.5)[seed % 3], (0.3, 2.0)[seed % 2]
    try:
        study = draw(seed).study()
        differing, budget = Differing(0, Moved(share=share)), Budget(seconds=30.0)
        found = alternatives(study, Within(above=above), 1, differing, budget, ranges=())
    except (InvalidInput, NoFormula, NoAnswer):
        return Counter(["no study"])
    programme, size = state(study), max(root(found.within, state(study)), 1e-3)
    said = minimised(programme, lambda it: far_from_closest(it, found, programme, share), size)
    if said is None:
        return Counter(["SCIP abstained"])
    least = deviation(said.value * size, programme)
    if found.complete and not found.formulas:
        assert least >= found.within * (1 - NOISE) - 1e-9, f"seed {seed}: SCIP has one"
        return Counter(["agreed: none"])
    if not found.formulas:
        return Counter(["we abstained"])
    (formula,) = found.formulas
    assert formula.value <= found.within * (1 + 1e-8) + 1e-9
    assert least >= formula.bound * (1 - NOISE) - 1e-7, f"seed {seed}: SCIP's is closer than our bound"
    if formula.status != "proven":
        return Counter(["we abstained"])
    assert deviation(said.bound * size, programme) <= formula.value * (1 + NOISE) + 1e-7, f"seed {seed}: SCIP's bound"
    return Counter(["agreed"])


def far_from_closest(said: Statement, found: Alternatives, programme: Programme, share: float) -> tuple[Any, list[Any]]:
    """Say in cvxpy how far is far: distances below both their sides, one of which a binary lets go."""
    import cvxpy as cp

    study, batch = found.study, programme.batch_g
    names = sorted({stock.key.material for stock in study.stocks})
    place = {name: k for k, name in enumerate(names)}
    grams = np.zeros((len(names), len(programme.columns)))
    before, most = np.zeros(len(names)), np.zeros(len(names))
    for i, stock in enumerate(study.stocks):
        odorant = 1 - stock.carrier_share
        grams[place[stock.key.material], i] = odorant
        before[place[stock.key.material]] += odorant * found.closest.unrounded.get(stock.key, 0.0) / batch
        top = 100.0 if programme.basis[i] <= 0 else min(1 / programme.basis[i], 100.0)
        most[place[stock.key.material]] += odorant * min(top, stock.maximum_g / batch)
    apart, more = cp.Variable(len(names), nonneg=True), cp.Variable(len(names), boolean=True)
    poured, far = grams @ said.amounts, 2 * (most + before)
    rules = [apart <= poured - before + cp.multiply(far, 1 - more), apart <= before - poured + cp.multiply(far, more)]
    rules.append(cp.sum(apart) >= 2 * share * float(before.sum()))
    return length(said, programme), rules


def ends(found: Alternatives, programme: Programme, range_: AmountRange) -> str:
    """Compare the least and the most of one material."""
    batch, size = programme.batch_g, max(root(found.within, programme), 1e-3)
    neat = np.zeros(len(programme.columns))
    for i, stock in enumerate(found.study.stocks):
        neat[i] = stock.key.strength if stock.key.material == range_.material else 0.0
    most = root(max(found.within, 1e-9), programme) / size
    for sign, end, bound in (
        (1, range_.least_g, range_.least_bound_g),
        (-1, range_.most_g, range_.most_bound_g),
    ):
        said = minimised(programme, lambda it, s=sign: (s * (neat @ it.amounts), [length(it, programme) <= most]), size)
        if said is None or said.infeasible:
            return "ranges: SCIP abstained"
        assert said.value * batch >= sign * bound - LITTLE * batch - 1e-3 * abs(bound), "SCIP's lies outside the bound"
        assert said.bound * batch <= sign * end + LITTLE * batch + 1e-3 * abs(end), "SCIP's bound excludes ours"
    return "ranges: agreed" if range_.proven else "ranges: we abstained"


@pytest.mark.parametrize("seeds", drawn([6], [*range(6), *range(7, 75)], quick=0), ids=["one", "all others"])
def test_no_other_is_closer(seeds: list[int]) -> None:
    came = sum((check(seed) for seed in seeds), Counter())
    print(dict(came))
    assert came["agreed"] + came["agreed: no more"] + came["ranges: agreed"] >= len(seeds)
    assert came["we abstained"] + came["ranges: we abstained"] <= 1 + len(seeds) // 25


@pytest.mark.parametrize("seeds", drawn([4], [*range(4), *range(5, 40)], quick=0), ids=["one", "all others"])
def test_none_that_moves_so_much_is_closer(seeds: list[int]) -> None:
    came = sum((check_moved(seed) for seed in seeds), Counter())
    print(dict(came))
    assert came["agreed"] + came["agreed: none"] >= len(seeds) // 2
    assert came["we abstained"] <= 1 + len(seeds) // 10
