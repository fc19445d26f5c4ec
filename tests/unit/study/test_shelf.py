"""Bottles as stocks, dilutions that can be made, and what is set aside."""

from __future__ import annotations

import math
from typing import Any

import pytest
from tests.studies import errors_of, stock, study, told

from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study

DPG = "dipropylene glycol"
BOTTLES = (
    "material,constituent,purity,strength,carrier,price_per_kg,stock_g,lot,opened,keeps_months,minimum_g,step_g\n"
    "Geraniol,geraniol,100,,,40,,,,,,\n"
    "Citronellol,citronellol,100,,,50,,,,,,\n"
    "DPG,dipropylene glycol,100,,,5,,,,,,\n"
)


def shelf(*more: str, without: str = "", **settings: Any) -> Study:
    kept = [line for line in BOTTLES.splitlines() if not without or not line.startswith(without)]
    return study(bottles="\n".join([*kept, *more]), settings=settings)


def aside(made: Study) -> dict[str, str]:
    return {item.stock.label: item.reason for item in made.set_aside}


MAKE = {"strengths": ["10 %", "1 %"], "carrier": "DPG"}


def test_the_key_tells_bottles_apart() -> None:
    made = shelf("Geraniol,geraniol,100,,,40,,L2,,,,", "Geraniol,geraniol,100,10,DPG,40,,L2,,,,")
    assert [s.key for s in made.stocks if s.key.material == "Geraniol"] == [
        StockKey("Geraniol", 0.1, DPG, "L2"),
        StockKey("Geraniol", 1.0, "", ""),
        StockKey("Geraniol", 1.0, "", "L2"),
    ]


def test_the_same_bottle_twice_with_two_prices_is_asked_about() -> None:
    errors = errors_of(
        bottles="material,constituent,purity,strength,carrier,price_per_kg\nA,geraniol,100,10,DPG,30\n"
        "a,geraniol,100,10,dipropylene glycol,40"
    )
    assert told(errors) == [
        (
            "duplicate-bottle",
            "bottles.csv, row 3, column material: the same bottle (material, strength, carrier, lot) "
            "stands in row 2 already, with another price_per_kg. Which is right? If both are, give each its lot.",
        )
    ]


@pytest.mark.parametrize(
    ("grams", "together", "said"),
    [(("2.1", "3.2"), 5.3, "rows 2, 3 are the same bottle and taken as one, 5.3 g on hand."),
     (("2.1", ""), math.inf, "rows 2, 3 are the same bottle and taken as one."),
     (("2", "3", "4"), 9.0, "rows 2, 3, 4 are the same bottle and taken as one, 9 g on hand.")],
)  # fmt: skip
def test_vials_that_differ_in_grams_alone_are_one_bottle(grams: tuple[str, ...], together: float, said: str) -> None:
    names = ["A,geraniol,100,10,DPG", "a,Geraniol,100,10,dipropylene glycol", "A,geraniol,100,10,DPG"]
    rows = "\n".join(f"{name},{g}" for name, g in zip(names, grams, strict=False))
    made = study(bottles=f"material,constituent,purity,strength,carrier,stock_g\n{rows}\nDPG,DPG,100,,,")
    assert stock(made, "A").maximum_g == together
    assert [w.message for w in made.warnings if w.code == "one-bottle"] == [said]


def test_a_strength_that_cannot_be_read_makes_no_second_bottle() -> None:
    errors = errors_of(bottles="material,constituent,purity,strength,carrier\nA,geraniol,100,,\nA,geraniol,100,1x,DPG")
    assert [f.code for f in errors] == ["bad-cell"]


def test_odorant_undeclared_and_carrier_of_a_diluted_bottle() -> None:
    made = shelf("G10,geraniol,97,10,DPG,,,,,,,")
    found = stock(made, "G10")
    assert found.odorant == pytest.approx(0.097)
    assert found.content.undeclared == pytest.approx(0.003)
    assert found.active == pytest.approx(0.1)
    assert found.carrier_share == pytest.approx(0.9)
    assert stock(made, "DPG").active == 0


def test_a_carrier_may_be_a_material() -> None:
    made = study(
        bottles="material,constituent,purity,strength,carrier\nG,geraniol,100,10,House solvent\n"
        "C,citronellol,100,,\nHouse solvent,,,,",
        compositions="material,part,share\nHouse solvent,benzyl benzoate,60\nHouse solvent,garden wax,40",
    )
    assert {"benzyl benzoate", "garden wax"} <= made.carriers
    assert stock(made, "G").active == pytest.approx(0.1)
    assert [(f.code, f.place.row) for f in made.warnings] == [("unknown-names", 3)], "the wax"


def test_a_carrier_of_the_target_is_an_odorant_and_said() -> None:
    made = study(
        target=f"constituent,G1\ngeraniol,60\n{DPG},40",
        bottles="material,constituent,purity\nGeraniol,geraniol,100\nDPG,DPG,100",
    )
    assert DPG not in made.carriers
    assert stock(made, "DPG").odorant == 1
    assert told(made.warnings) == [
        (
            "carrier-in-target",
            f"target.csv: {DPG} is a carrier, but the target names it: it counts as an odorant in this study.",
        )
    ]


def test_the_carrier_of_dilutions_that_the_target_names_is_said_where_it_stands() -> None:
    made = study(
        target="constituent,G1\ngeraniol,60\nbenzyl benzoate,40",
        bottles="material,constituent,purity\nGeraniol,geraniol,100\nBB,benzyl benzoate,100",
        settings={"dilutions": {"strengths": ["10 %"], "carrier": "benzyl benzoate"}},
    )
    assert "benzyl benzoate" not in made.carriers
    assert told(made.warnings) == [
        (
            "carrier-in-target",
            "study.toml, dilutions.carrier: benzyl benzoate is a carrier, but the target names it: it counts as an "
            "odorant in this study. Each dilution made adds to it.",
        )
    ]


def test_what_dilutions_are_made_with_is_a_carrier_whatever_its_mark() -> None:
    bottles = "material,constituent,purity\nGeraniol,geraniol,100\nBB,benzyl benzoate,100"
    made = study(bottles=bottles, settings={"dilutions": {"strengths": ["10 %"], "carrier": "benzyl benzoate"}})
    assert "benzyl benzoate" in made.carriers
    assert stock(made, "BB").odorant == 0
    assert stock(made, "Geraniol", lot="made").odorant == pytest.approx(0.1)


def test_a_lot_cannot_be_called_as_what_is_made() -> None:
    errors = errors_of(bottles="material,constituent,purity,lot\nGeraniol,geraniol,100,Made")
    assert told(errors) == [
        (
            "reserved-name",
            'bottles.csv, row 2, column lot: a lot cannot be called "Made": so are the dilutions that are made for '
            "the batch.",
        )
    ]


def test_dates_that_say_nothing_are_said() -> None:
    made = study(
        bottles="material,constituent,purity,opened,keeps_months\nA,geraniol,100,2026-11-26,\nB,nerol,100,2026-11-25,\n"
        "C,linalool,100,,12\nD,citral,100,,6\nE,camphor,100,,"
    )
    assert told(made.warnings) == [
        (
            "date-ahead",
            "bottles.csv, row 2, column opened: A is opened on 2026-11-26, after the day of the study (2026-11-25).",
        ),
        (
            "no-date",
            "bottles.csv, row 4, column opened: blank, so that keeps_months says nothing: its age is not checked "
            "(so too in 1 more row).",
        ),
    ]
    errors = errors_of(bottles="material,constituent,purity,opened,keeps_months\nC,linalool,100,soon,12")
    assert [f.code for f in errors] == ["bad-cell"]


def test_without_a_balance_nothing_has_a_minimum_or_a_grid() -> None:
    found = stock(shelf(), "Geraniol")
    assert (found.minimum_g, found.step_g, found.maximum_g) == (0, 0, math.inf)


def test_minima_round_up_to_the_grid_and_stock_down() -> None:
    made = shelf("A,nerol,100,,,,5.27,,,,,", balance={"readability_g": 0.1, "minimum_g": 0.25})
    found = stock(made, "A")
    assert (found.minimum_g, found.maximum_g, found.step_g) == (0.3, 5.2, 0.1)


def test_a_bottle_may_have_its_own_minimum_and_its_own_drop() -> None:
    made = shelf(
        "A,nerol,100,,,,,,,,0.05,", "B,linalool,100,,,,,,,,,0.03", balance={"readability_g": 0.01, "minimum_g": 0.2}
    )
    assert stock(made, "A").minimum_g == 0.05
    assert (stock(made, "B").minimum_g, stock(made, "B").step_g) == (0.21, 0.03)
    assert stock(made, "Geraniol").minimum_g == 0.2


def test_dilutions_are_made_from_every_odorant() -> None:
    made = shelf(dilutions=MAKE)
    keys = [s.key for s in made.stocks if s.recipe]
    assert keys == [StockKey(m, s, DPG, "made") for m in ("Citronellol", "Geraniol") for s in (0.01, 0.1)]
    found = stock(made, "Geraniol", strength=0.1)
    assert found.content.typical == pytest.approx({"geraniol": 0.1, DPG: 0.9})
    assert found.price_per_g == pytest.approx((0.1 * 40 + 0.9 * 5) / 1000)
    assert found.recipe is not None
    assert (found.recipe.source, found.recipe.source_share) == (StockKey("Geraniol", 1, "", ""), 0.1)
    assert found.recipe.carrier == StockKey("DPG", 1, "", "")


def test_a_recipe_has_a_minimum_of_its_own_and_what_is_on_hand_bounds_it() -> None:
    made = shelf(
        "Nerol,nerol,100,,,,3,,,,,",
        balance={"readability_g": 0.01, "minimum_g": 0.2},
        dilutions={"strengths": ["10 %", "95 %"], "carrier": DPG},
    )
    ten = stock(made, "Nerol", strength=0.1)
    assert ten.recipe is not None
    assert ten.recipe.least_g == pytest.approx(2.0)  # 0.2 g of nerol make 2 g
    assert ten.minimum_g == 0.2
    assert ten.maximum_g == 30
    # 0.2 g of carrier would need 3.8 g of nerol
    assert [s.key.strength for s in made.stocks if s.key.material == "Nerol"] == [0.1, 1.0]
    strong = stock(made, "Geraniol", strength=0.95)
    assert strong.recipe is not None
    assert strong.recipe.least_g == pytest.approx(4.0)


def test_a_recipe_that_just_fits_what_is_left() -> None:
    made = shelf("Nerol,nerol,100,,,,0.02,,,,,", balance={"readability_g": 0.01, "minimum_g": 0.02}, dilutions=MAKE)
    assert stock(made, "Nerol", strength=0.1).maximum_g == pytest.approx(0.2)
    assert stock(made, "Nerol", strength=0.01).maximum_g == pytest.approx(2)


def test_no_dilution_where_an_unlimited_bottle_of_it_stands() -> None:
    made = shelf("Geraniol,geraniol,100,10,DPG,,,,,,,", dilutions=MAKE)
    assert [s.key.strength for s in made.stocks if s.recipe and s.key.material == "Geraniol"] == [0.01]
    limited = shelf("Geraniol,geraniol,100,10,DPG,,8,,,,,", dilutions=MAKE)
    assert [s.key.strength for s in limited.stocks if s.recipe and s.key.material == "Geraniol"] == [0.01, 0.1]


def test_the_source_is_the_strongest_bottle_then_the_fullest() -> None:
    made = shelf(
        "Nerol,nerol,100,50,DPG,,,,,,,",
        "Nerol,nerol,100,20,DPG,,,,,,,",
        "Linalool,linalool,100,,,,5,a,,,,",
        "Linalool,linalool,100,,,,9,b,,,,",
        dilutions={"strengths": ["20 %", "10 %"], "carrier": DPG},
    )
    ten = stock(made, "Nerol", strength=0.1)
    assert ten.recipe is not None
    assert (ten.recipe.source.strength, ten.recipe.source_share) == (0.5, 0.2)
    assert ten.content.typical == pytest.approx({"nerol": 0.1, DPG: 0.9})
    of_lots = stock(made, "Linalool", strength=0.1)
    assert of_lots.recipe is not None
    assert of_lots.recipe.source.lot == "b"


def test_a_lot_that_may_not_be_used_is_no_source() -> None:
    made = shelf(
        "Linalool,linalool,100,,,,5,a,2026-10-01,24,,",
        "Linalool,linalool,100,,,,9,b,2020-10-01,24,,",
        shelf={"overdue": "exclude"},
        dilutions=MAKE,
    )
    found = stock(made, "Linalool", strength=0.1)
    assert found in made.stocks
    assert found.recipe is not None
    assert found.recipe.source.lot == "a"
    assert aside(made) == {"Linalool (b)": "past its date"}


def test_no_bottle_of_the_carrier() -> None:
    bottles = "\n".join(BOTTLES.splitlines()[:3])
    errors = errors_of(bottles=bottles, settings={"dilutions": MAKE})
    assert told(errors) == [
        (
            "no-carrier-bottle",
            f"study.toml, dilutions.carrier: no neat bottle holds {DPG}. Add one to bottles.csv, "
            "so that its grams and price count.",
        )
    ]


def test_an_oil_that_happens_to_list_the_carrier_first_is_no_bottle_of_it() -> None:
    rows = [f"Benzoin,{DPG},60", "Benzoin,benzyl benzoate,40"]
    for order in (rows, rows[::-1]):
        errors = errors_of(
            bottles="material,constituent,purity\nGeraniol,geraniol,100\nBenzoin,,",
            compositions="\n".join(["material,part,share", *order]),
            settings={"dilutions": MAKE},
        )
        assert [f.code for f in errors] == ["no-carrier-bottle"]


@pytest.mark.parametrize(("overdue", "used"), [("keep", True), ("exclude", False)])
def test_bottles_past_their_date(overdue: str, used: bool) -> None:
    made = shelf(
        "Nerol,nerol,100,,,,,,2024-11-24,24,,",
        "Linalool,linalool,100,,,,,,2024-11-25,24,,",
        shelf={"overdue": overdue},
        dilutions=MAKE,
    )
    assert (stock(made, "Nerol", strength=1) in made.stocks) is used
    done = 'still used. overdue = "exclude" leaves such bottles out.' if used else "left out."
    assert told(made.warnings) == [("overdue", f"bottles.csv, row 5, column opened: Nerol is past its date; {done}")]
    if not used:
        assert aside(made)["Nerol"] == "past its date"
        assert aside(made)["Nerol 10 % in dipropylene glycol (made)"] == "its bottle is past its date"


def test_ends_of_months_and_far_dates() -> None:
    made = shelf("A,nerol,100,,,,,,2026-10-31,0.5,,", "B,nerol,100,,,,,,9999-12-31,1200,,")
    assert [(f.code, f.place.row) for f in made.warnings] == [("overdue", 5), ("date-ahead", 6)]


def test_bottles_that_are_used_up() -> None:
    made = shelf(
        "Nerol,nerol,100,,,,0.1,,,,,",
        "Linalool,linalool,100,,,,0,,,,,",
        balance={"readability_g": 0.01, "minimum_g": 0.2},
    )
    assert told(made.warnings) == [
        (
            "too-little-left",
            "bottles.csv, row 5, column stock_g: 0.1 g of Nerol are less than can be weighed (0.2 g); left out.",
        ),
        ("too-little-left", "bottles.csv, row 6, column stock_g: Linalool is used up; left out."),
    ]
    assert aside(made) == {"Linalool": "used up", "Nerol": "less left than can be weighed"}


def test_an_empty_bottle_is_set_aside_without_a_balance_too() -> None:
    assert aside(shelf("Linalool,linalool,100,,,,0,,,,,")) == {"Linalool": "used up"}


def test_excluded_materials_and_their_dilutions() -> None:
    made = shelf("Nerol,nerol,100,,,,,,,,,", limits={"exclude": ["NEROL"]}, dilutions=MAKE)
    assert set(aside(made).values()) == {"excluded"}
    assert len(aside(made)) == 3
    assert not [s for s in made.stocks if s.key.material == "Nerol"]


def test_dilutions_of_an_excluded_carrier() -> None:
    made = shelf(limits={"exclude": ["DPG"]}, dilutions=MAKE)
    assert aside(made)["Geraniol 10 % in dipropylene glycol (made)"] == "its carrier is excluded"


def test_an_exclusion_that_names_nothing() -> None:
    errors = errors_of(
        bottles=BOTTLES,
        compositions="material,part,share\nOld base,geraniol,100",
        settings={"limits": {"exclude": ["Geranol", "Musk", "Old base"]}},
    )
    assert told(errors) == [
        (
            "unknown-material",
            'study.toml, limits.exclude: no bottle is called "Geranol". Did you mean "Geraniol"?',
        ),
        ("unknown-material", 'study.toml, limits.exclude: no bottle is called "Musk".'),
        ("unknown-material", 'study.toml, limits.exclude: no bottle is called "Old base".'),
    ]


def test_a_dilution_is_made_of_the_cheapest_of_equal_bottles() -> None:
    made = shelf(
        "Nerol,nerol,99,,,30,,,,,,", "Nerol,nerol,99,,,20,,B,,,,", dilutions={"strengths": ["10 %"], "carrier": DPG}
    )
    (diluted,) = (s for s in made.stocks if s.key.material == "Nerol" and s.recipe is not None)
    assert diluted.recipe is not None
    assert diluted.recipe.source.lot == "B"
