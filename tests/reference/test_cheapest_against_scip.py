"""The cheapest formula against SCIP (M. Bolusani et al., The SCIP Optimization Suite 9.0, 2024), through cvxpy.

A deviation `v` is allowed. SCIP minimises the deviation with the cost at most 0.3 % below what was found: it must be
above `v`, or nothing may be feasible. That the formula found holds everything is worked out by the judge.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from typing import Literal

import pytest
from tests.random_studies import draw
from tests.scip_apart import scip
from tests.seeds import drawn

from reaccord.answer.judge import judge
from reaccord.contract import Budget
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.programme import state
from reaccord.questions.axis import Cost
from reaccord.questions.cheapest import Cheapest, Within, cheapest

Verdict = Literal["agreed", "we abstained", "SCIP abstained", "no formula"]

ABOVE = (0.02, 0.1, 0.5, 2.0)
GAP, CHEAPER = 1e-3, 3e-3
"""What is asked for without saying; a little more than it."""
NOISE = 1e-5
"""Relative; SCIP keeps the deviation's cone to about 1e-6."""
SECONDS = 20.0
"""SCIP takes about one a study; the rest is for a machine with other work."""
SOLVABLE = [0, 1, 2, 3, 5, 6, 7, 9, 12, 13, 14, 15, 16, 17, 18, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 33, 35, 36]
SOLVABLE += [37, 39, 40, 42, 44, 46, 47, 49, 51, 53, 54]
"""The first forty seeds whose study has a formula."""


def found_for(seed: int) -> Cheapest | None:
    """Return the cheapest formula of a drawn study; None where no formula or none on the grid exists."""
    try:
        return cheapest(draw(seed).study(), Within(above=ABOVE[seed % len(ABOVE)]))
    except (NoFormula, NoAnswer, InvalidInput):
        return None


def check(seed: int) -> Verdict:
    """Compare one study; say what came of it."""
    found = found_for(seed)
    if found is None:
        return "no formula"
    holds_everything(found.study, found)
    if found.status != "proven":
        return "we abstained"
    said = scip(state(Cost().at(found.study, found.before * (1 - CHEAPER))), Budget(gap=1e-4, seconds=SECONDS))
    if said is None or said.status not in {"proven", "infeasible"}:
        return "SCIP abstained"
    if said.status == "proven":
        assert said.bound > found.within * (1 - NOISE), f"seed {seed}: SCIP is close enough at a lower cost"
    return "agreed"


def holds_everything(study: Study, found: Cheapest) -> None:
    before = judge(study, found.unrounded, slack=0.0)
    assert before.closeness.value <= found.within * (1 + 1e-8) + 1e-9
    assert before.totals.cost_per_kg == pytest.approx(found.before)
    assert all(s.held or math.isclose(s.value, s.limit, rel_tol=1e-6, abs_tol=1e-9) for s in _of_amounts(before))
    assert found.status == ("proven" if found.gap <= GAP else "feasible")
    assert found.bound <= found.before * (1 + 1e-12)
    rounded = judge(study, found.amounts)
    assert not rounded.broken
    assert found.over == (rounded.closeness.value > found.within * (1 + 1e-9) and rounded.closeness.value > 1e-9)


def _of_amounts(judged):
    """Return the limits but the balance's grid, which the amounts before rounding do not know."""
    return [state for state in judged.limits if "whole steps" not in state.label]


@pytest.mark.parametrize("part", drawn(SOLVABLE[8:13], SOLVABLE[:8] + SOLVABLE[13:]), ids=["five", "all others"])
def test_no_formula_is_cheaper(part: list[int]) -> None:
    came = Counter(map(check, part))
    assert came["agreed"] >= 0.85 * len(part)
    assert came["we abstained"] == 0


@pytest.mark.sweep
def test_no_formula_is_cheaper_in_a_hundred_studies(record_property: Callable[[str, object], None]) -> None:
    """Seeds are taken until SCIP has agreed a hundred times; `-s` tells how often it or we abstained.

    Seed 1052 is measured by `worst` and has a bottle without an end and nothing of the target: no bound is proven.
    """
    came: Counter[Verdict] = Counter()
    for seed in range(1000, 1300):
        came[check(seed)] += 1
        if came["agreed"] == 100:
            break
    record_property("came", dict(came))
    print(dict(came))
    assert came["agreed"] == 100
    assert came["we abstained"] <= 2
