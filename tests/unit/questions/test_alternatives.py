"""Other formulas nearly as close, on studies small enough to know the answer."""

from __future__ import annotations

from typing import Any

import pytest
from tests.studies import study

from reaccord.domain.study import Study
from reaccord.findings import NoFormula
from reaccord.questions.alternatives import Alternatives, alternatives
from reaccord.questions.cheapest import Within

TARGET = "constituent,G1\ngeraniol,50\ncitronellol,30\nlinalool,20"
BOTTLES = (
    "material,constituent,purity,lot,price_per_kg\nGer,geraniol,100,,10\nCit,citronellol,100,,10\nLin,linalool,100,,10\n"
    "Rosy,,,,20"
)
OIL = "material,part,share\nRosy,geraniol,60\nRosy,citronellol,40"


def of(**tables: Any) -> Study:
    return study(**({"target": TARGET, "bottles": BOTTLES, "compositions": OIL} | tables))


def poured(found: Alternatives) -> list[list[str]]:
    return [sorted(key.material for key in one.amounts) for one in found.formulas]


def test_another_formula_does_without_what_the_first_pours() -> None:
    found = alternatives(of(), Within(deviation=0.05), 5, 1)
    assert sorted(line.stock.key.material for line in found.closest.judged.lines) == ["Cit", "Ger", "Lin"]
    # the oil brings all citronellol and most geraniol: 7.5 g, 0.5 g of Ger, 2 g of Lin meet the target
    assert poured(found)[0] == ["Ger", "Lin", "Rosy"]
    assert found.formulas[0].value == pytest.approx(0.0, abs=1e-9)
    assert all(one.value <= 0.05 for one in found.formulas)
    assert found.complete
    assert found.status == "proven"
    values = [one.value for one in found.formulas]
    assert values == sorted(values)


def test_none_where_nothing_else_is_near() -> None:
    found = alternatives(of(bottles=BOTTLES.rsplit("\n", 1)[0], compositions=None), Within(deviation=0.01), 3, 1)
    assert found.formulas == ()
    assert found.complete


def test_lots_and_dilutions_of_one_material_are_one_bottle() -> None:
    bottles = (
        "material,constituent,purity,lot,stock_g\nGer,geraniol,100,A,3\nGer,geraniol,100,B,9\nCit,citronellol,100,,"
    )
    made = study(
        target="constituent,G1\ngeraniol,60\ncitronellol,40",
        bottles=bottles + "\nDPG,dipropylene glycol,100,,",
        settings={"dilutions": {"strengths": ["10 %"], "carrier": "dipropylene glycol"}},
    )
    found = alternatives(made, Within(deviation=0.3), 5, 1)
    assert poured(found) == []
    assert found.complete


def test_the_range_of_a_material_is_what_its_row_allows() -> None:
    found = alternatives(of(bottles=BOTTLES.rsplit("\n", 1)[0], compositions=None), Within(deviation=0.01), 1, 1)
    lin = next(one for one in found.ranges if one.material == "Lin")
    # the rest in proportion: y of linalool costs (y - .2)^2 (1 / .2 + 1 / .8)
    step = (0.01 / (1 / 0.2 + 1 / 0.8)) ** 0.5
    assert lin.least_g == pytest.approx(10 * (0.2 - step), rel=0.02)
    assert lin.most_g == pytest.approx(10 * (0.2 + step), rel=0.02)
    assert lin.least_bound_g <= 10 * (0.2 - step) <= lin.least_g * (1 + 1e-9)
    assert lin.most_g * (1 - 1e-9) <= 10 * (0.2 + step) <= lin.most_bound_g
    assert lin.proven


def test_what_can_be_left_out_has_none_and_ranges_can_be_chosen() -> None:
    found = alternatives(of(), Within(deviation=0.05), 2, 1, ranges=["Rosy", "Lin"])
    assert [one.material for one in found.ranges] == ["Lin", "Rosy"]
    assert found.ranges[0].least_g > 0
    assert (found.ranges[1].least_g, found.ranges[1].least_bound_g) == (0.0, 0.0)
    assert alternatives(of(), Within(deviation=0.05), 1, 1, ranges=[]).ranges == ()


def test_nearer_than_the_closest_there_are_none() -> None:
    without = BOTTLES.replace("\nLin,linalool,100,,10", "")
    with pytest.raises(NoFormula, match=r"No formula deviates by as little as 1e-06: the closest by 0\.\d+\. Let"):
        alternatives(of(bottles=without), Within(deviation=1e-6), 1, 1)
