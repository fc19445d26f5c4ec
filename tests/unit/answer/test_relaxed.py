"""What is said to be possible is, and a hair less is not."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from tests.tiny_study import GREEN, RED, tiny
from tests.unit.solvers.hand import limited, singles

from reaccord.answer.fit import fit
from reaccord.domain.study import Study
from reaccord.findings import NoFormula
from reaccord.programme import state
from reaccord.solvers.possible import least_of, possible


def said(study: Study) -> dict[str, str]:
    """Return how far each limit of the conflict must give way, by its sentence."""
    with pytest.raises(NoFormula) as caught:
        fit(study)
    lines = [re.split(r" {3,}", line.strip()) for line in str(caught.value).splitlines() if line.startswith("  ")]
    return {line[0]: line[1] if len(line) > 1 else "" for line in lines}


def number(text: str) -> float:
    return float(re.findall(r"[\d.]+", text)[0])


def has_formula(study: Study) -> bool:
    return possible(state(study))


def test_a_price_says_from_where() -> None:
    found = said(tiny(limits={"cost_per_kg": 5}))
    (way,) = found.values()
    least = number(way)
    assert has_formula(tiny(limits={"cost_per_kg": least}))
    assert not has_formula(tiny(limits={"cost_per_kg": least - 0.02}))


def test_of_two_each_says_how_far_it_must_give_way_alone() -> None:
    def made(cost: float, grams: float) -> Study:
        return tiny(limits={"cost_per_kg": cost, "amount": [{"material": "Green", "at_least_g": grams}]})

    found = said(made(20, 9))
    cost, grams = number(found["cost at most 20.00 per kg of accord"]), number(found["Green at least 9 g"])
    assert has_formula(made(cost, 9))
    assert not has_formula(made(cost - 0.02, 9))
    assert found["Green at least 9 g"].startswith("possible up to")
    assert has_formula(made(20, grams))
    assert not has_formula(made(20, grams * 1.01))


def test_lines_and_three_amounts() -> None:
    amounts = [{"material": "Red", "at_least_g": 1}, {"material": "Green", "at_least_g": 2}]
    found = said(tiny(limits={"lines": 1, "amount": amounts}))
    assert found["at most 1 line"] == "possible from 2"
    assert found["Red at least 1 g"] == found["Green at least 2 g"] == "possible up to 0 g"


def test_rules_in_percent_of_the_product() -> None:
    rules = [{"rule": "A", "members": "green", "max": "0.5"}, {"rule": "B", "members": "red", "max": "0.5"}]
    found = said(tiny(rules=rules))
    for sentence, way in found.items():
        assert way.endswith(" %"), sentence
        name = sentence[:1]
        eased = [row | ({"max": f"{number(way):.6g}"} if row["rule"] == name else {}) for row in rules]
        assert has_formula(tiny(rules=eased))
        tight = [row | ({"max": f"{number(way) * 0.98:.6g}"} if row["rule"] == name else {}) for row in rules]
        assert not has_formula(tiny(rules=tight))


def test_a_conflict_of_minima_alone_says_the_batch() -> None:
    """Two lines of 20 g at least make no batch of 10 g."""
    found = said(tiny(balance={"readability_g": 0.01, "minimum_g": 20}))
    least = number(found["the smallest weighable masses"])
    assert found["the smallest weighable masses"].startswith("possible from a batch of")
    assert has_formula(tiny(balance={"readability_g": 0.01, "minimum_g": 20}, batch={"accord_g": least}))
    assert not has_formula(tiny(balance={"readability_g": 0.01, "minimum_g": 20}, batch={"accord_g": 0.98 * least}))


def test_an_old_lot_says_how_much_it_makes() -> None:
    bottles = [RED | {"stock_g": "3"}, GREEN | {"stock_g": "4"}]
    assert said(tiny(bottles))["the grams on hand"] == "possible up to a batch of 7.00 g"


def test_two_conflicts_are_not_called_one() -> None:
    """Neither the price nor the amount is the whole of it: dropping one leaves the other conflict."""
    amounts = [{"material": "Green", "at_least_g": 9}]
    study = tiny([RED | {"stock_g": "0.5"}, GREEN | {"stock_g": "0.5"}], limits={"cost_per_kg": 5, "amount": amounts})
    with pytest.raises(NoFormula) as caught:
        fit(study)
    assert "Dropping any one of them gives a formula" not in str(caught.value)
    assert "another conflict" in str(caught.value)


def test_of_what_nothing_else_wants_all_that_is_on_hand_counts() -> None:
    # the carrier only harms but for the limit that is left out: how much of it there can be is asked for
    carrier = replace(
        singles([1.0, 0.0]), basis=np.array([1.0, 0.0]), content=np.array([[1.0, 0.0], [0.0, 0.0]]),
        maximum=np.array([np.inf, 3.0]), minimum=np.array([0.0, 1.0]),
    )  # fmt: skip
    carrier = limited(carrier, 20.0, amounts=[0.0, 1.0])
    assert least_of(carrier, np.array([0.0, -1.0]), np.zeros(2), 5.0) == pytest.approx(-3.0)
