"""Nothing is gained by ballast: a bottle that brings nothing of the target never makes any optimum better."""

from __future__ import annotations

import math

import pytest
from tests.random_studies import Draft, draw
from tests.seeds import seeds

from reaccord.contract import Budget, gap_of
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.programme import state
from reaccord.questions.cheapest import Within, cheapest
from reaccord.solvers.choose import solve

FINE = Budget(gap=1e-7)
CLOSE = 1e-3
"""What a search for absolute and worst leaves open at most."""
NOISE = 1e-6
"""Relative; twice what two searches may differ by."""
LIMITS = {
    "cost": {"cost_per_kg": 40},
    "undeclared": {"undeclared": "3 %"},
    "lines": {"lines": 4},
    "rules": {},
}


def drafts(seed: int, measure: str, kind: str) -> tuple[Draft, Draft]:
    """Return a study with limits of one kind, and the same with bottles of cheap, pure, unrestricted ballast."""
    draft = draw(seed, measure=measure)
    limits = {key: value for key, value in draft.settings.get("limits", {}).items() if key in {"table", "dosage"}}
    draft.settings["limits"] = (limits if kind == "rules" else {}) | LIMITS[kind]
    if not draft.settings["limits"]:
        del draft.settings["limits"]
    if kind != "rules":
        draft.tables.pop("limits.csv", None)
    draft.settings["target"]["rest"] = "close"
    for bottle in draft.tables["bottles.csv"]:
        bottle["price_per_kg"] = bottle.get("price_per_kg") or "50"
    more = draft.copy()
    for number in range(3):
        more.tables["bottles.csv"].append(
            {"material": f"Ballast {number}", "constituent": f"nothing wanted {number}", "purity": "100"}
            | {"price_per_kg": str(number)}
        )
    return draft, more


def optimum(study: Study) -> tuple[float, float]:
    """Return the least deviation found and what none is below; infinite where there is no formula."""
    answer = solve(state(study), FINE)
    if answer.status == "infeasible":
        return math.inf, math.inf
    assert gap_of(answer.value, answer.bound) < CLOSE
    return answer.value, answer.bound


@pytest.mark.parametrize("kind", LIMITS)
@pytest.mark.parametrize("measure", ["squares", "absolute", "worst"])
@seeds(900, 902, 906)
def test_a_bottle_that_brings_nothing_wanted_makes_nothing_closer(seed: int, measure: str, kind: str) -> None:
    try:
        without, with_ballast = (draft.study() for draft in drafts(seed, measure, kind))
    except InvalidInput:
        pytest.skip("drawn with a finding")
    least, found = optimum(without)[1], optimum(with_ballast)[0]
    assert found >= least * (1 - NOISE) - 1e-9


@seeds(906, 909, 914)
def test_nor_cheaper(seed: int) -> None:
    try:
        without, with_ballast = (draft.study() for draft in drafts(seed, "squares", "cost"))
        before = cheapest(without, Within(above=0.05), Budget(gap=1e-5))
        after = cheapest(with_ballast, Within(deviation=before.within), Budget(gap=1e-5))
    except (InvalidInput, NoFormula, NoAnswer):
        pytest.skip("drawn with a finding, or without a formula")
    assert after.before >= before.bound * (1 - NOISE)
    assert not [line for line in after.judged.lines if line.stock.key.material.startswith("Ballast")]
