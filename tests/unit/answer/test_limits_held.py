"""Every limit, held by a hair and broken by a hair."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest
from tests.tiny_study import CARRIER, GREEN, OIL, OIL_PARTS, RED, tiny

from reaccord.answer.judge import judge
from reaccord.answer.limits_held import LimitState
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study

DPG = "dipropylene glycol"
BALANCE = {"readability_g": 0.01, "minimum_g": 0.05}
RED_KEY, GREEN_KEY = StockKey("Red", 1.0, "", ""), StockKey("Green", 1.0, "", "")
OIL_KEY, CARRIER_KEY = StockKey("Oil", 1.0, "", ""), StockKey("Carrier", 1.0, "", "")
RED_MADE = StockKey("Red", 0.1, DPG, "made")


def broken(study: Study, amounts: Mapping[StockKey, float]) -> list[str]:
    return [state.label for state in judge(study, amounts).broken]


def state_of(study: Study, amounts: Mapping[StockKey, float], label: str) -> LimitState:
    return next(state for state in judge(study, amounts).limits if state.label == label)


CASES: dict[str, tuple[Callable[[], Study], dict[StockKey, float], dict[StockKey, float], str]] = {
    "cost": (
        lambda: tiny(limits={"cost_per_kg": 26}),
        {RED_KEY: 6.0, GREEN_KEY: 4.0},
        {RED_KEY: 5.99, GREEN_KEY: 4.01},
        "cost",
    ),
    "lines": (lambda: tiny(limits={"lines": 1}), {RED_KEY: 10.0}, {RED_KEY: 9.0, GREEN_KEY: 1.0}, "lines"),
    "carrier": (
        lambda: tiny([RED | {"strength": "50", "carrier": DPG}, GREEN], batch={"carrier_max_g": 3}),
        {StockKey("Red", 0.5, DPG, ""): 6.0, GREEN_KEY: 4.0},
        {StockKey("Red", 0.5, DPG, ""): 6.01, GREEN_KEY: 4.0},
        "carrier",
    ),
    "undeclared": (
        lambda: tiny([RED, GREEN | {"purity": "90"}], limits={"undeclared": "4 %"}),
        {RED_KEY: 6.4, GREEN_KEY: 4.0},
        {RED_KEY: 6.39, GREEN_KEY: 4.0},
        "undeclared",
    ),
    "at least": (
        lambda: tiny(limits={"amount": [{"material": "Green", "at_least_g": 4}]}),
        {RED_KEY: 6.0, GREEN_KEY: 4.0},
        {RED_KEY: 6.0, GREEN_KEY: 3.99},
        "Green at least",
    ),
    "at most": (
        lambda: tiny(limits={"amount": [{"material": "Green", "at_most_g": 4}]}),
        {RED_KEY: 6.0, GREEN_KEY: 4.0},
        {RED_KEY: 6.0, GREEN_KEY: 4.01},
        "Green at most",
    ),
    "each": (
        lambda: tiny(rules=[{"rule": "A", "members": "green", "max": "0.8"}]),
        {RED_KEY: 6.0, GREEN_KEY: 4.0},
        {RED_KEY: 5.99, GREEN_KEY: 4.01},
        "A: green",
    ),
    "sum, high ends": (
        lambda: tiny(
            [GREEN, OIL], compositions=OIL_PARTS, rules=[{"rule": "B", "members": "red", "max": "0.7", "kind": "sum"}]
        ),
        {GREEN_KEY: 5.0, OIL_KEY: 5.0},
        {GREEN_KEY: 4.99, OIL_KEY: 5.01},
        "B",
    ),
    "ratio": (
        lambda: tiny(
            rules=[
                {"rule": "C", "members": "red", "max": "2.4", "kind": "ratio"},
                {"rule": "C", "members": "green", "max": "1.6", "kind": "ratio"},
            ]
        ),
        {RED_KEY: 6.0, GREEN_KEY: 4.0},
        {RED_KEY: 5.99, GREEN_KEY: 4.01},
        "C",
    ),
    "prohibited": (
        lambda: tiny(
            [RED, GREEN, OIL],
            compositions=OIL_PARTS,
            rules=[{"rule": "D", "members": "Oil", "max": None, "kind": "prohibited"}],
        ),
        {RED_KEY: 6.0, GREEN_KEY: 4.0},
        {RED_KEY: 6.0, GREEN_KEY: 4.0, OIL_KEY: 0.01},
        "D: Oil",
    ),
    "on hand": (
        lambda: tiny([RED | {"stock_g": "6"}, GREEN]),
        {RED_KEY: 6.0, GREEN_KEY: 4.0},
        {RED_KEY: 6.01, GREEN_KEY: 4.0},
        "Red: on hand",
    ),
    "weighable": (
        lambda: tiny(balance=BALANCE),
        {RED_KEY: 6.0, GREEN_KEY: 0.05},
        {RED_KEY: 6.0, GREEN_KEY: 0.04},
        "Green: smallest weighable",
    ),
    "grid": (
        lambda: tiny(balance=BALANCE),
        {RED_KEY: 0.07, GREEN_KEY: 0.29},
        {RED_KEY: 0.075, GREEN_KEY: 0.29},
        "Red: whole steps of 0.01 g",
    ),
    "one strength": (
        lambda: tiny(
            [RED, RED | {"strength": "50", "carrier": DPG}, GREEN, CARRIER],
            balance=BALANCE,
            dilutions={"strengths": ["10 %", "1 %"], "carrier": DPG},
        ),
        {RED_KEY: 6.0, StockKey("Red", 0.5, DPG, ""): 1.0, RED_MADE: 0.1, GREEN_KEY: 4.0},
        {RED_KEY: 6.0, StockKey("Red", 0.01, DPG, "made"): 0.1, RED_MADE: 0.1, GREEN_KEY: 4.0},
        "Red: strengths made",
    ),
    "source of what is made": (
        lambda: tiny(
            [RED | {"stock_g": "0.6"}, GREEN, CARRIER],
            balance=BALANCE,
            dilutions={"strengths": ["10 %"], "carrier": DPG},
        ),
        {RED_MADE: 6.0, GREEN_KEY: 4.0},
        {RED_MADE: 6.01, GREEN_KEY: 4.0},
        "Red: on hand",
    ),
    "carrier of what is made": (
        lambda: tiny(
            [RED, GREEN, CARRIER | {"stock_g": "6.4"}],
            balance=BALANCE,
            dilutions={"strengths": ["10 %"], "carrier": DPG},
        ),
        {RED_MADE: 6.0, CARRIER_KEY: 1.0, GREEN_KEY: 4.0},
        {RED_MADE: 6.0, CARRIER_KEY: 1.01, GREEN_KEY: 4.0},
        "Carrier: on hand",
    ),
    "excluded": (
        lambda: tiny(limits={"exclude": ["Green"]}),
        {RED_KEY: 6.0},
        {RED_KEY: 6.0, GREEN_KEY: 4.0},
        "Green: excluded",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_held_by_a_hair(name: str) -> None:
    make, holding, _, _ = CASES[name]
    assert broken(make(), holding) == []


@pytest.mark.parametrize("name", CASES)
def test_broken_by_a_hair(name: str) -> None:
    make, _, breaking, label = CASES[name]
    assert broken(make(), breaking) == [label]


@pytest.mark.parametrize("name", ["cost", "carrier", "undeclared", "each", "ratio", "on hand", "weighable", "at most"])
def test_on_the_limit_is_binding(name: str) -> None:
    make, holding, _, label = CASES[name]
    assert state_of(make(), holding, label).binding


def test_far_from_the_limit_is_not_binding() -> None:
    make, *_ = CASES["cost"]
    state = state_of(make(), {RED_KEY: 9.0, GREEN_KEY: 1.0}, "cost")
    assert (state.value, state.limit, state.unit) == (pytest.approx(14.0), 26, "per kg")
    assert not state.binding


def test_a_made_stock_takes_at_least_what_its_recipe_can_be_made_in() -> None:
    """At 0.05 g smallest mass, 0.5 g is the least of a tenth solution: it takes 0.05 g of Red even if 0.1 g is used."""
    study = tiny(
        [RED | {"stock_g": "0.05"}, GREEN, CARRIER | {"stock_g": "0.46"}],
        balance=BALANCE,
        dilutions={"strengths": ["10 %"], "carrier": DPG},
    )
    state = state_of(study, {RED_MADE: 0.1, GREEN_KEY: 4.0}, "Red: on hand")
    assert (state.value, state.limit, state.held) == (pytest.approx(0.05), 0.05, True)
    short = {RED_MADE: 0.1, CARRIER_KEY: 0.05, GREEN_KEY: 4.0}
    assert broken(study, short) == ["Carrier: on hand"]


def test_what_a_bottle_asks_is_silent_while_it_holds() -> None:
    assert judge(tiny(balance=BALANCE), {RED_KEY: 6.0, GREEN_KEY: 4.0}).limits == ()


def test_dosage_counts_for_the_product() -> None:
    make, holding, *_ = CASES["each"]
    state = state_of(make(), holding, "A: green")
    assert (state.value, state.limit, state.unit) == (pytest.approx(0.008), pytest.approx(0.008), "share")
