"""How dilutions are made: reckoned by hand, and against every chain of strengths on a grid of amounts."""

from __future__ import annotations

import math

import pytest
from tests.seeds import seeds
from tests.tiny_study import CARRIER, GREEN, RED, tiny

from reaccord.balance.dilution import MOST_LEFT_G, Making, stocks_to_make
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study

BALANCE = {"readability_g": 0.001, "minimum_g": 0.02}


def study_of(*strengths: str, **bottle: str) -> Study:
    made = {"strengths": list(strengths), "carrier": "dipropylene glycol"}
    return tiny([RED | {"lot": "R-1"} | bottle, GREEN, CARRIER], balance=BALANCE, dilutions=made)


def made_of(study: Study, **grams: float) -> tuple[Making, ...]:
    """Return the dilutions of red to make for these grams, by strength in percent: `p10=0.5`."""
    key = next(stock.key for stock in study.stocks if stock.recipe and stock.key.material == "Red")
    return stocks_to_make(study, {key._replace(strength=float(p[1:]) / 100): g for p, g in grams.items()})


def test_one_step_by_hand() -> None:
    """0.5 g of 10 %: 0.05 g and 0.45 g; s is 0.41 of a step of 0.001 g."""
    (made,) = made_of(study_of("10 %", "1 %"), p10=0.5)
    assert (made.material_g, made.carrier_g, made.left_g) == (0.05, 0.45, 0.0)
    assert made.source == StockKey("Red", 1.0, "", "R-1")
    assert made.error == pytest.approx(0.9 * math.hypot(0.00041 / 0.05, 0.00041 / 0.45))


def test_what_is_left_over_where_less_cannot_be_weighed() -> None:
    """0.02 g is the least of the balance: 2 g of 1 % for the 0.5 g wanted."""
    (made,) = made_of(study_of("10 %", "1 %"), p1=0.5)
    assert (made.material_g, made.carrier_g) == (0.02, 1.98)
    assert made.left_g == pytest.approx(1.5)


def test_steps_one_after_another_where_one_would_make_far_too_much() -> None:
    """0.1 % in one step would be 20 g; by way of 10 % or 1 % it is a few grams, with as little of the bottle."""
    made = made_of(study_of("10 %", "1 %", "0.1 %"), **{"p0.1": 0.5})
    assert len(made) > 1
    assert made[0].material_g == 0.02
    assert math.fsum(one.left_g for one in made) < MOST_LEFT_G
    errors = [0.0]
    for one, before in zip(made, (None, *made), strict=False):
        assert one.source == (before.key if before else StockKey("Red", 1.0, "", "R-1"))
        share = one.material_g / one.made_g
        errors.append((1 - share) * math.hypot(0.00041 / one.material_g, 0.00041 / one.carrier_g))
        assert one.error == pytest.approx(math.sqrt(math.fsum(e * e for e in errors)))
    assert made[-1].reached == pytest.approx(0.001)


def test_of_two_dilutions_the_weaker_is_made_of_the_stronger() -> None:
    strong, weak = made_of(study_of("10 %", "1 %"), p10=1.0, p1=1.0)
    assert weak.source == strong.key
    assert (strong.poured_g, strong.taken_g) == (1.0, weak.material_g)
    assert strong.made_g >= 1.0 + weak.material_g - 1e-12


def test_without_a_balance_nothing_is_rounded_and_no_error_is_known() -> None:
    study = tiny([RED, GREEN, CARRIER], dilutions={"strengths": ["10 %"], "carrier": "dipropylene glycol"})
    (made,) = made_of(study, p10=1 / 3)
    assert (made.made_g, made.error) == (pytest.approx(1 / 3), None)


@seeds(0, 20, 60, 400)
def test_there_is_enough_of_each_and_no_other_way_takes_less_of_the_bottle(seed: int) -> None:
    import random

    draw = random.Random(seed)
    strengths = draw.sample([50, 20, 10, 5, 1, 0.5, 0.1], draw.randint(1, 4))
    study = study_of(*(f"{p:g} %" for p in strengths), minimum_g=f"{draw.choice([0.02, 0.05, 0.2])}")
    asked = {
        f"p{p:g}": round(draw.uniform(0.02, 6), 3) for p in draw.sample(strengths, draw.randint(1, len(strengths)))
    }
    made = made_of(study, **asked)
    for one in made:
        assert one.made_g >= one.poured_g + one.taken_g - 1e-9
        assert min(one.material_g, one.carrier_g) >= 0.02 - 1e-12
        assert one.reached == pytest.approx(one.key.strength, rel=0.03)
    assert {f"p{one.key.strength * 100:g}": one.poured_g for one in made if one.poured_g} == asked
    red = next(stock for stock in study.stocks if stock.key == StockKey("Red", 1.0, "", "R-1"))
    neat = math.fsum(float(p[1:]) / 100 * grams for p, grams in asked.items())
    assert made[0].material_g >= max(neat, red.minimum_g) - 1e-9
    one_each = math.fsum(max(red.minimum_g, float(p[1:]) / 100 * g) for p, g in asked.items())
    assert made[0].material_g <= one_each * 1.05 + 0.003
