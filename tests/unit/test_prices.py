"""What a gram of each stock costs, and where a blank price is an error."""

from __future__ import annotations

from typing import Any

import pytest
from tests.studies import errors_of, stock, study, told

from reaccord.load import Study

PARTS = "material,part,share,part_kind,strength,carrier\n"


def priced(bottles: str, parts: str = "", **settings: Any) -> Study:
    head = "material,constituent,purity,strength,carrier,price_per_kg\n"
    return study(bottles=head + bottles, compositions=PARTS + parts if parts else None, settings=settings)


def test_a_price_is_per_kg_as_in_the_bottle() -> None:
    made = priced("G,geraniol,100,,,40\nG,geraniol,100,10,DPG,9\nC,citronellol,100,,,")
    assert stock(made, "G", strength=1).price_per_g == 0.04
    assert stock(made, "G", strength=0.1).price_per_g == 0.009
    assert stock(made, "C").price_per_g is None


def test_a_blend_without_a_price_costs_its_parts() -> None:
    made = priced(
        "Blend,,,,,\nInner,,,,,\nG,geraniol,100,,,40\nN,nerol,100,,,100\nDPG,DPG,100,,,5",
        "Blend,Inner,50,material,,\nBlend,N,50,material,10,DPG\nInner,G,100,material,,",
    )
    assert stock(made, "Inner").price_per_g == pytest.approx(0.04)
    assert stock(made, "Blend").price_per_g == pytest.approx(0.5 * 0.04 + 0.5 * (0.1 * 0.1 + 0.9 * 0.005))


def test_a_part_known_only_in_dilution_is_priced_neat() -> None:
    made = priced("Blend,,,,,\nN,nerol,100,10,DPG,14.5\nDPG,DPG,100,,,5", "Blend,N,100,material,,")
    assert stock(made, "Blend").price_per_g == pytest.approx((0.0145 - 0.9 * 0.005) / 0.1)


def test_no_price_is_ever_below_nothing() -> None:
    made = priced("Blend,,,,,\nN,nerol,100,10,DPG,1\nDPG,DPG,100,,,50", "Blend,N,100,material,,")
    assert stock(made, "Blend").price_per_g == 0


def test_pure_constituents_of_a_blend_cost_their_cheapest_bottle_not_an_oil_rich_in_it() -> None:
    bottles = "Blend,,,,,\nOrange oil,,,,,8\nL,limonene,93,,,20\nL96,limonene,96,,,30\nG,geraniol,100,,,40"
    rows = ["Orange oil,limonene,95,,,", "Orange oil,linalool,1,,,", "Blend,limonene,50,,,", "Blend,G,50,material,,"]
    for order in (rows, rows[::-1]):
        assert stock(priced(bottles, "\n".join(order)), "Blend").price_per_g == pytest.approx(0.5 * 0.02 + 0.5 * 0.04)


def test_an_analysis_is_no_recipe() -> None:
    made = priced("Oil,,,,,\nG,geraniol,100,,,40", "Oil,geraniol,100,,,")
    assert stock(made, "Oil").price_per_g is None


@pytest.mark.parametrize(("share", "known"), [(98, True), (90, False)])
def test_a_blend_with_much_unsaid_has_no_price(share: int, known: bool) -> None:
    made = priced("Blend,,,,,\nG,geraniol,100,,,40", f"Blend,G,{share},material,,")
    assert (stock(made, "Blend").price_per_g is not None) is known


def test_a_blank_price_where_cost_is_limited() -> None:
    errors = errors_of(
        bottles="material,constituent,purity,price_per_kg\nG,geraniol,100,40\nC,citronellol,100,",
        settings={"limits": {"cost_per_kg": 50}},
    )
    assert told(errors) == [
        (
            "blank",
            "bottles.csv, row 3, column price_per_kg: blank, but cost is limited: what does C cost per kg? "
            "(A blend without a price costs its parts, if all of them have one.)",
        )
    ]


def test_only_the_carrier_without_a_price_is_asked_for() -> None:
    errors = errors_of(
        bottles="material,constituent,purity,price_per_kg\nG,geraniol,100,40\nC,citronellol,100,50\nDPG,DPG,100,",
        settings={"limits": {"cost_per_kg": 50}, "dilutions": {"strengths": ["10 %"], "carrier": "DPG"}},
    )
    assert [(f.code, f.place.row, f.place.column) for f in errors] == [("blank", 4, "price_per_kg")]


def test_a_price_that_cannot_be_read_is_not_blank_as_well() -> None:
    errors = errors_of(
        bottles='material,constituent,purity,price_per_kg\nG,geraniol,100,40\nC,citronellol,100,"5,0"',
        settings={"limits": {"cost_per_kg": 50}},
    )
    assert [f.code for f in errors] == ["bad-cell"]


def test_a_bottle_set_aside_needs_no_price() -> None:
    made = priced("G,geraniol,100,,,40\nC,citronellol,100,,,", limits={"cost_per_kg": 50, "exclude": ["C"]})
    assert [s.key.material for s in made.stocks] == ["G"]
