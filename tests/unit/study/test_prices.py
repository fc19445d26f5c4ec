"""What a gram of each stock costs, and where a blank price is an error."""

from __future__ import annotations

from typing import Any

import pytest
from tests.studies import errors_of, stock, study, told

from reaccord.domain.study import Study

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
    made = priced("Blend,,,,,\nN,nerol,100,10,DPG,14.5\nDPG,DPG,100,,,5", "Blend,N,100,material,100,")
    assert stock(made, "Blend").price_per_g == pytest.approx((0.0145 - 0.9 * 0.005) / 0.1)


def test_no_price_is_ever_below_nothing() -> None:
    made = priced("Blend,,,,,\nN,nerol,100,10,DPG,1\nDPG,DPG,100,,,50", "Blend,N,100,material,100,")
    assert stock(made, "Blend").price_per_g == 0


def test_pure_constituents_of_a_blend_cost_their_cheapest_bottle_not_an_oil_rich_in_it() -> None:
    bottles = "Blend,,,,,\nOrange oil,,,,,8\nL,limonene,93,,,20\nL96,limonene,96,,,30\nG,geraniol,100,,,40"
    rows = ["Orange oil,limonene,95,,,", "Orange oil,linalool,1,,,", "Blend,limonene,50,,,", "Blend,G,50,material,,"]
    for order in (rows, rows[::-1]):
        assert stock(priced(bottles, "\n".join(order)), "Blend").price_per_g == pytest.approx(0.5 * 0.02 + 0.5 * 0.04)


def test_an_analysis_is_no_recipe() -> None:
    made = priced("Oil,,,,,\nG,geraniol,100,,,40", "Oil,geraniol,100,,,")
    assert stock(made, "Oil").price_per_g is None


@pytest.mark.parametrize("share", [100, 98, 95])
def test_a_little_that_nobody_declares_costs_as_much_as_the_rest_and_says_so(share: int) -> None:
    parts = f"Blend,G,{share / 2},material,,\nBlend,N,{share / 2},material,,"
    bottles = "Blend,,,,,\nG,geraniol,100,,,40\nN,nerol,100,,,100"
    said = f"{parts}\nBlend,undeclared,{100 - share},,," if share < 100 else parts
    for made in (priced(bottles, parts), priced(bottles, said)):
        assert stock(made, "Blend").price_per_g == pytest.approx(0.07)
        assert [(w.code, w.place.row, w.place.column) for w in made.warnings if w.code == "undeclared-price"] == (
            [("undeclared-price", 2, "price_per_kg")] if share < 100 else []
        )


@pytest.mark.parametrize("inner", [False, True])
def test_what_nobody_declares_of_more_may_cost_anything(inner: bool) -> None:
    parts = "B,G,1,material,,\nB,undeclared,99,,,"
    bottles = "Blend,,,,,\nG,geraniol,100,,,40"
    parts = f"Blend,B,50,material,,\nBlend,G,50,material,,\n{parts}" if inner else parts.replace("B,", "Blend,")
    assert stock(priced(bottles, parts), "Blend").price_per_g is None
    assert unpriced(bottles, parts) == [
        (
            "blank",
            "bottles.csv, row 2, column price_per_kg: blank, but cost is limited: what does Blend cost per kg? "
            "(As a blend it would cost its parts, but one has no price: what nobody declares, 99 %"
            f"{', in B' if inner else ''}.)",
        )
    ]


def test_a_blend_inside_a_blend_says_what_is_assumed_of_its_price() -> None:
    made = priced("Blend,,,,,\nG,geraniol,100,,,40", "Blend,B,50,material,,\nBlend,G,50,material,,\nB,G,96,material,,")
    assert [w.message for w in made.warnings if w.code == "undeclared-price"] == [
        "blank: Blend costs its parts, and what nobody declares of it (2 %) as much as they do."
    ]


def test_a_part_sold_only_as_a_dilution_costs_what_is_neat_in_it() -> None:
    neat = (0.0145 - 0.9 * 0.005) / 0.1
    bottles = "Blend,,,,,\nG,geraniol,100,,,40\nN,nerol,100,10,DPG,14.5\nDPG,DPG,100,,,5"
    for parts in ("Blend,G,50,material,,\nBlend,N,50,material,100,", "Blend,G,50,material,,\nBlend,nerol,50,,,"):
        assert stock(priced(bottles, parts), "Blend").price_per_g == pytest.approx(0.5 * 0.04 + 0.5 * neat)


def test_a_part_used_as_it_is_sold_costs_what_is_asked_whatever_its_carrier() -> None:
    bottles = "Blend,,,,,\nG,geraniol,100,,,40\nN,nerol,100,10,DPG,14.5"
    made = priced(bottles, "Blend,G,50,material,,\nBlend,N,50,material,10,DPG")
    assert stock(made, "Blend").price_per_g == pytest.approx(0.5 * 0.04 + 0.5 * 0.0145)


def unpriced(bottles: str, parts: str | None = None) -> list[tuple[str, str]]:
    head = "material,constituent,purity,strength,carrier,price_per_kg\n"
    table = PARTS + parts if parts else None
    return told(errors_of(bottles=head + bottles, compositions=table, settings={"limits": {"cost_per_kg": 50}}))


def test_a_blank_price_where_cost_is_limited() -> None:
    assert unpriced("G,geraniol,100,,,40\nC,citronellol,100,,,") == [
        ("blank", "bottles.csv, row 3, column price_per_kg: blank, but cost is limited: what does C cost per kg?")
    ]


@pytest.mark.parametrize(
    ("bottles", "parts", "lacking"),
    [
        ("Blend,,,,,", "Blend,G,50,material,,\nBlend,N,50,material,,\nN,nerol,90,,,", "N"),
        ("Blend,,,,,", "Blend,G,50,material,,\nBlend,nerol,50,,,", "nerol"),
        ("Blend,,,,,", "Blend,G,50,material,,\nBlend,I,50,material,,\nI,G,50,material,,\nI,nerol,5,,,", "nerol, in I"),
        ("Blend,,,,,", "Blend,G,50,material,10,DPG", "dipropylene glycol"),
        ("Blend,,,10,DPG,", "Blend,G,100,material,,", "dipropylene glycol"),
    ],
)
def test_a_blend_without_a_price_says_which_part_lacks_one(bottles: str, parts: str, lacking: str) -> None:
    assert unpriced(f"G,geraniol,100,,,40\n{bottles}", parts) == [
        (
            "blank",
            "bottles.csv, row 3, column price_per_kg: blank, but cost is limited: what does Blend cost per kg? "
            f"(As a blend it would cost its parts, but one has no price: {lacking}.)",
        )
    ]


def test_no_price_at_all_is_one_finding_and_a_misspelt_heading_too() -> None:
    bottles = "material,constituent,purity,{}\nG,geraniol,100,{}\nC,citronellol,100,{}"
    limits = {"limits": {"cost_per_kg": 50}}
    for heading in ("price_per_kg", "note"):
        errors = errors_of(bottles=bottles.format(heading, "", ""), settings=limits)
        assert told(errors) == [
            (
                "blank",
                "bottles.csv, row 1, column price_per_kg: cost is limited, but no bottle has a price: what do they "
                "cost per kg?",
            )
        ]
    errors = errors_of(bottles=bottles.format("prize_per_kgs", "1", "2"), settings=limits)
    assert [(f.code, f.place.column) for f in errors] == [("unknown-column", "prize_per_kgs")]


def test_only_the_carrier_without_a_price_is_asked_for() -> None:
    errors = errors_of(
        bottles="material,constituent,purity,price_per_kg\nG,geraniol,100,40\nC,citronellol,100,50\nDPG,DPG,100,",
        settings={"limits": {"cost_per_kg": 50}, "dilutions": {"strengths": ["10 %"], "carrier": "DPG"}},
    )
    assert [(f.code, f.place.row, f.place.column) for f in errors] == [("blank", 4, "price_per_kg")]


def test_a_price_that_cannot_be_read_is_not_blank_as_well() -> None:
    errors = errors_of(
        bottles="material,constituent,purity,price_per_kg\nG,geraniol,100,40\nC,citronellol,100,5x",
        settings={"limits": {"cost_per_kg": 50}},
    )
    assert [f.code for f in errors] == ["bad-cell"]


def test_a_bottle_set_aside_needs_no_price() -> None:
    made = priced("G,geraniol,100,,,40\nC,citronellol,100,,,", limits={"cost_per_kg": 50, "exclude": ["C"]})
    assert [s.key.material for s in made.stocks] == ["G"]
