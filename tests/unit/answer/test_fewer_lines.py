"""Of formulas that are equally close, the one of fewer lines."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.studies import study

from reaccord.answer.fewer_lines import without_needless
from reaccord.answer.fit import fit
from reaccord.programme import state

HEAD = "material,constituent,purity,strength,carrier,price_per_kg,stock_g,lot\n"
ROSE = "G,geraniol,100,,,40,,\n"


def poured(bottles: str, grams: dict[str, float], **settings: Any) -> dict[str, float]:
    """Return gram by lot (or material) of what is left of a formula."""
    made = study(bottles=HEAD + ROSE + bottles, settings=settings)
    names = [stock.key.lot or stock.key.material for stock in made.stocks]
    amounts = np.array([grams.get(name, 0.0) for name in names])
    left = without_needless(made, state(made), amounts)
    return {name: float(x) for name, x in zip(names, left, strict=False) if x > 0}


def test_what_brings_nothing_of_the_target_is_left_out() -> None:
    bottles = "C,citronellol,100,,,60,,\nDPG,DPG,100,,,5,,"
    assert poured(bottles, {"G": 6, "C": 4, "DPG": 0.02}) == {"G": 6, "C": 4}


def test_what_a_limit_asks_for_stays() -> None:
    bottles = "C,citronellol,100,,,60,,\nDPG,DPG,100,,,5,,"
    amount = {"material": "DPG", "at_least_g": 0.02}
    kept = {"G": 6, "C": 4, "DPG": 0.02}
    assert poured(bottles, kept, limits={"amount": [amount]}) == kept


def test_nothing_makes_room_under_a_limit() -> None:
    bottles = "C,citronellol,100,,,60,,\nH,hedione,100,,,5,,"
    cost = (6 * 40 + 4 * 60 + 1 * 5) / 10
    assert poured(bottles, {"G": 6, "C": 4, "H": 1}, limits={"cost_per_kg": cost}) == {"G": 6, "C": 4}


@pytest.mark.parametrize(("prices", "left"), [(("60", "80"), "C-1"), (("80", "60"), "C-2"), (("", "60"), "C-2")])
def test_two_lots_are_poured_from_the_cheaper(prices: tuple[str, str], left: str) -> None:
    bottles = f"C,citronellol,100,,,{prices[0]},,C-1\nC,citronellol,100,,,{prices[1]},,C-2"
    for grams in ({"C-1": 2, "C-2": 2}, {"C-1": 4}, {"C-2": 4}):
        assert poured(bottles, {"G": 6, **grams}) == {"G": 6, left: 4}


@pytest.mark.parametrize(("step", "neat"), [(None, True), (0.001, True), (0.004, True), (0.01, False)])
def test_of_strengths_that_stand_there_the_strongest_that_is_weighed_well(step: float | None, neat: bool) -> None:
    bottles = "C,citronellol,100,,,60,,neat\nC,citronellol,100,10,DPG,60,,tenth\nDPG,DPG,100,,,5,,"
    balance = {"balance": {"readability_g": step, "minimum_g": step}} if step else {}
    left = poured(bottles, {"G": 9.6, "tenth": 4}, **balance)
    assert left == pytest.approx({"G": 9.6, "neat": 0.4} if neat else {"G": 9.6, "tenth": 4})


def test_the_strength_that_a_limit_asks_for_stays() -> None:
    bottles = "C,citronellol,100,,,600,,neat\nC,citronellol,100,10,DPG,6,,tenth\nDPG,DPG,100,,,5,,"
    cost = (9.6 * 40 + 4 * 6) / 10
    assert "tenth" in poured(bottles, {"G": 9.6, "tenth": 4}, limits={"cost_per_kg": cost})


def test_the_dearer_lot_where_there_is_too_little_of_the_cheaper() -> None:
    bottles = "C,citronellol,100,,,60,3,C-1\nC,citronellol,100,,,80,,C-2"
    assert poured(bottles, {"G": 6, "C-1": 2, "C-2": 2}) == {"G": 6, "C-2": 4}
    both = "C,citronellol,100,,,60,3,C-1\nC,citronellol,100,,,80,3,C-2"
    assert poured(both, {"G": 6, "C-1": 3, "C-2": 1}) == {"G": 6, "C-1": 3, "C-2": 1}


def test_a_deviation_of_nothing_needs_no_line_that_makes_it_less() -> None:
    bottles = "C,citronellol,100,,,60,,\nO,geraniol,50,,,60,,"
    assert poured(bottles, {"G": 5.99998, "C": 4, "O": 0.00004}) == {
        "G": pytest.approx(6, rel=1e-5),
        "C": pytest.approx(4, rel=1e-5),
    }


def test_a_fit_pours_one_of_two_equal_lots() -> None:
    bottles = f"{HEAD}{ROSE}C,citronellol,95,,,60,,C-1\nC,citronellol,95,,,40,,C-2"
    found = fit(study(bottles=bottles, settings={"balance": {"readability_g": 0.001, "minimum_g": 0.02}}))
    assert [key.lot for key in found.amounts] == ["C-2", ""]


TWINS = "C-old,citronellol,95,,,60,,\nC-new,citronellol,95,,,40,,"


def test_of_two_materials_that_are_the_same_the_cheaper_is_poured() -> None:
    assert poured(TWINS, {"G": 6, "C-old": 2, "C-new": 2.2}) == {"G": 6, "C-new": 4.2}
    assert poured(TWINS, {"G": 6, "C-old": 4.2}) == {"G": 6, "C-new": 4.2}


def test_a_twin_that_a_limit_tells_apart_is_none() -> None:
    kept = {"G": 6, "C-old": 4.2}
    limits = {"amount": [{"material": "C-old", "at_least_g": 4.2}]}
    assert poured(TWINS, kept, limits=limits) == kept
    most = {"amount": [{"material": "C-new", "at_most_g": 9}]}
    assert poured(TWINS, kept, limits=most) == kept
