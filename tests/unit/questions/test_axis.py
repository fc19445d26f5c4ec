from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.tiny_study import GREEN, RED, tiny

from reaccord.answer.judge import judge
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, UsageError
from reaccord.programme import state
from reaccord.questions.axis import Axis, axis_of

RULES = (
    {"rule": "Colours", "members": "red; green", "max": "1.5", "kind": "each"},
    {"rule": "Both", "members": "red; green", "max": "1.9", "kind": "sum"},
    {"rule": "Shares", "members": "red", "max": "1.5", "kind": "ratio"},
    {"rule": "Shares", "members": "green", "max": "1.2", "kind": "ratio"},
)
NAMES = ("cost", "lines", "carrier", "Colours: red", "Both", "Shares")


def made(**more: Any) -> Study:
    return tiny(rules=RULES, batch={"accord_g": 10, "carrier_max_g": 3}, limits={"cost_per_kg": 40, "lines": 2}, **more)


def amounts(study: Study, red: float, green: float) -> dict[Any, float]:
    grams = {"Red": red, "Green": green}
    return {stock.key: grams[stock.key.material] for stock in study.stocks}


@pytest.mark.parametrize(
    ("name", "own", "quantity"),
    [
        ("cost", 40, 22),  # 0.7 of 10 and 0.3 of 50 per kg
        ("lines", 2, 2),
        ("carrier", 3, 0),
        ("Colours: red", 0.015, 0.014),  # at a dosage of 2 %
        ("both", 0.019, 0.02),
        ("Shares", 1, 0.014 / 0.015 + 0.006 / 0.012),
    ],
)
def test_where_the_study_and_a_formula_stand(name: str, own: float, quantity: float) -> None:
    study = made()
    axis = axis_of(study, name)
    assert axis.own(study) == pytest.approx(own)
    assert axis.quantity(study, amounts(study, 7, 3)) == pytest.approx(quantity)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("factor", [0.9, 1.1])
def test_a_ceiling_lets_through_what_lies_below_it(name: str, factor: float) -> None:
    study = made()
    axis = axis_of(study, name)
    poured = amounts(study, 7, 3)
    ceiling = max(axis.quantity(study, poured), 0.5) * factor
    if axis.whole:
        ceiling = 1.0 if factor < 1 else 2.0
    moved = axis.at(study, ceiling)
    held = axis.quantity(study, poured) <= ceiling
    broken = [s.label for s in judge(moved, poured).broken]
    assert (axis.name in broken) == (not held), broken
    excess = state(axis.at(without_others(study, axis), ceiling)).excess(grams(moved, poured))
    assert (excess > 1e-6) == (not held)


def without_others(study: Study, axis: Axis) -> Study:
    """Return the study with no limit but those of the axis."""
    for name in (*NAMES, "Colours: green"):
        if name.casefold() != axis.name.casefold():
            study = axis_of(study, name).at(study, None)
    return study


def grams(study: Study, poured: dict[Any, float]) -> Any:
    return np.array([poured[stock.key] for stock in study.stocks])


@pytest.mark.parametrize("name", NAMES)
def test_without_a_ceiling_nothing_of_it_is_left(name: str) -> None:
    study = made()
    axis = axis_of(study, name)
    free = axis.at(study, None)
    before, after = state(study).limits, state(free).limits
    assert len(after) == len(before) - 1
    assert axis.name not in {s.label for s in judge(free, amounts(study, 7, 3)).limits}


def test_unknown_names_list_what_there_is() -> None:
    with pytest.raises(UsageError, match=r"cost, lines, carrier, Both, Colours: green, Colours: red, Shares\."):
        axis_of(made(), "colour")


def test_cost_needs_every_price() -> None:
    study = tiny((RED, GREEN | {"price_per_kg": None}))
    with pytest.raises(InvalidInput, match=r"bottles.csv, row 3, column price_per_kg: blank, but cost is minimised"):
        axis_of(study, "cost")
    assert axis_of(study, "lines").quantity(study, amounts(study, 7, 3)) == 2


def test_a_blend_whose_part_lacks_a_price_names_both() -> None:
    unpriced = {key: text for key, text in GREEN.items() if key != "price_per_kg"}
    parts = [{"material": "Oil", "part": "Green", "share": "80", "part_kind": "material"}]
    with pytest.raises(InvalidInput) as caught:
        axis_of(tiny([RED, unpriced, {"material": "Oil"}], compositions=parts), "cost")
    assert [error.message for error in caught.value.errors] == [
        "blank, but cost is minimised: what does Green cost per kg?",
        "blank, but cost is minimised: what does Oil cost per kg? "
        "(As a blend it would cost its parts, but one has no price: Green.)",
    ]
