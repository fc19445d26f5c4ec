"""Other formulas nearly as close, on studies small enough to know the answer."""

from __future__ import annotations

from typing import Any

import pytest
from tests.studies import study

from reaccord.domain.study import Study
from reaccord.findings import NoFormula
from reaccord.questions.alternatives import Alternatives, Differing, alternatives
from reaccord.questions.cheapest import Within
from reaccord.questions.moved_apart import Moved
from reaccord.study.changed import with_keys

TARGET = "constituent,G1\ngeraniol,50\ncitronellol,30\nlinalool,20"
BOTTLES = (
    "material,constituent,purity,lot,price_per_kg\nGer,geraniol,100,,10\nCit,citronellol,100,,10\nLin,linalool,100,,10\n"
    "Rosy,,,,20"
)
OIL = "material,part,share\nRosy,geraniol,60\nRosy,citronellol,40"


ONE = Differing(1)


def of(**tables: Any) -> Study:
    return study(**({"target": TARGET, "bottles": BOTTLES, "compositions": OIL} | tables))


def poured(found: Alternatives) -> list[list[str]]:
    return [sorted(key.material for key in one.amounts) for one in found.formulas]


def test_another_formula_does_without_what_the_first_pours() -> None:
    found = alternatives(of(), Within(deviation=0.05), 5, ONE)
    # the oil brings all citronellol and most geraniol: 7.5 g, 0.5 g of Ger, 2 g of Lin meet the target too
    exact = [["Cit", "Ger", "Lin"], ["Ger", "Lin", "Rosy"]]
    closest = sorted(line.stock.key.material for line in found.closest.judged.lines)
    assert sorted([closest, poured(found)[0]]) == exact
    assert found.formulas[0].value == pytest.approx(0.0, abs=1e-9)
    assert all(one.value <= 0.05 for one in found.formulas)
    assert found.complete
    assert found.status == "proven"
    values = [one.value for one in found.formulas]
    assert values == sorted(values)


def test_none_where_nothing_else_is_near() -> None:
    found = alternatives(of(bottles=BOTTLES.rsplit("\n", 1)[0], compositions=None), Within(deviation=0.01), 3, ONE)
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
    found = alternatives(made, Within(deviation=0.3), 5, ONE)
    assert poured(found) == []
    assert found.complete


def test_the_range_of_a_material_is_what_its_row_allows() -> None:
    found = alternatives(of(bottles=BOTTLES.rsplit("\n", 1)[0], compositions=None), Within(deviation=0.01), 1, ONE)
    lin = next(one for one in found.ranges if one.material == "Lin")
    # the rest in proportion: y of linalool costs (y - .2)^2 (1 / .2 + 1 / .8)
    step = (0.01 / (1 / 0.2 + 1 / 0.8)) ** 0.5
    assert lin.least_g == pytest.approx(10 * (0.2 - step), rel=0.02)
    assert lin.most_g == pytest.approx(10 * (0.2 + step), rel=0.02)
    assert lin.least_bound_g <= 10 * (0.2 - step) <= lin.least_g * (1 + 1e-9)
    assert lin.most_g * (1 - 1e-9) <= 10 * (0.2 + step) <= lin.most_bound_g
    assert lin.proven


def test_what_can_be_left_out_has_none_and_ranges_can_be_chosen() -> None:
    found = alternatives(of(), Within(deviation=0.05), 2, ONE, ranges=["Rosy", "Lin"])
    assert [one.material for one in found.ranges] == ["Lin", "Rosy"]
    assert found.ranges[0].least_g > 0
    assert (found.ranges[1].least_g, found.ranges[1].least_bound_g) == (0.0, 0.0)
    assert alternatives(of(), Within(deviation=0.05), 1, ONE, ranges=[]).ranges == ()


def test_nearer_than_the_closest_there_are_none() -> None:
    without = BOTTLES.replace("\nLin,linalool,100,,10", "")
    with pytest.raises(NoFormula, match=r"No formula deviates by as little as 1e-06: the closest by 0\.\d+\. Let"):
        alternatives(of(bottles=without), Within(deviation=1e-6), 1, ONE)


PAIRS = "material,constituent,purity\nGer,geraniol,100\nGer B,geraniol,100\nCit,citronellol,100\nLin,linalool,100"


@pytest.mark.parametrize("moved", [Moved(share=0.3), Moved(gram=3.0)])
def test_so_much_mass_is_moved_and_no_more_than_that(moved: Moved) -> None:
    """Of two bottles of one thing one can stand for the other: 3 of 10 g moved at no cost at all, both ways."""
    found = alternatives(of(bottles=PAIRS, compositions=None), Within(deviation=0.05), 1, Differing(0, moved))
    (one,) = found.formulas
    assert one.value == pytest.approx(0.0, abs=1e-9)
    assert one.moved[0] >= 0.3 * (1 - 1e-3)
    assert found.status == "proven"


def test_what_is_moved_costs_what_the_target_says() -> None:
    without = BOTTLES.rsplit("\n", 1)[0]
    found = alternatives(
        of(bottles=without, compositions=None), Within(deviation=0.05), 1, Differing(0, Moved(share=0.05))
    )
    # half a gram of ten between geraniol (50 %) and the others in proportion costs least: 0.05^2 (1 / 0.5 + 1 / 0.5)
    (one,) = found.formulas
    assert one.value == pytest.approx(0.05**2 * (1 / 0.5 + 1 / 0.5), rel=2e-3)
    assert one.bound <= one.value
    assert one.moved == (pytest.approx(0.05, rel=1e-3),)
    far = alternatives(
        of(bottles=without, compositions=None), Within(deviation=0.05), 1, Differing(0, Moved(share=0.5))
    )
    assert (far.formulas, far.complete, far.status) == ((), True, "proven")


def test_carrier_poured_moves_nothing() -> None:
    bottles = "material,constituent,purity\nGer,geraniol,100\nCit,citronellol,100\nDPG,dipropylene glycol,100"
    made = study(target="constituent,G1\ngeraniol,60\ncitronellol,40", bottles=bottles)
    found = alternatives(made, Within(deviation=0.01), 1, Differing(0, Moved(share=0.1)))
    assert (found.formulas, found.complete) == ((), True)


def test_both_kinds_of_difference_hold_together() -> None:
    found = alternatives(of(), Within(deviation=0.2), 2, Differing(1, Moved(share=0.4)))
    used = {line.stock.key.material for line in found.closest.judged.lines}
    for one in found.formulas:
        assert one.moved[0] >= 0.4 * (1 - 1e-3)
        assert used - {key.material for key in one.amounts}


def test_one_closer_than_the_closest_found_takes_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a wide gap the search for the closest may stop at one that another search beats."""
    from reaccord.answer import fit as rooms

    real, asked = rooms.fit, []

    def first_far(made: Study, budget: Any = None, *args: Any, **more: Any) -> Any:
        asked.append(budget.start)
        worse = with_keys(made, "limits", lines=2) if len(asked) == 1 else made
        return real(worse, budget, *args, **more)

    monkeypatch.setattr("reaccord.questions.alternatives.fit", first_far)
    found = alternatives(of(compositions=None, bottles=PAIRS), Within(deviation=0.6), 2, Differing(0, Moved(share=0.1)))
    assert asked[0] is None
    assert asked[1] is not None
    values = [found.closest.judged_before.closeness.value, *(one.value for one in found.formulas)]
    assert all(found.closest.judged_before.closeness.value <= value + 1e-9 for value in values)
