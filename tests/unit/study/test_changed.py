"""What a changed study is, by hand, and what is refused."""

from __future__ import annotations

import pickle
import re
from dataclasses import replace
from typing import Any

import pytest
from tests.studies import row, stock, study, told
from tests.tiny_study import CARRIER, GREEN, RED, tiny

from reaccord.certificate.restate import restate as in_fractions
from reaccord.certificate.stated import check_same
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.settings import AmountSettings, DilutionSettings
from reaccord.domain.stock import Content, Stock, StockKey
from reaccord.findings import InvalidInput
from reaccord.programme import restate, state
from reaccord.study import changed

OLD = {"opened": "2020-01-01", "keeps_months": "6"}
DILUTIONS = {"strengths": ["10 %"], "carrier": "dipropylene glycol"}


def test_a_bottle_left_out_takes_its_dilutions_along_and_comes_back() -> None:
    made = tiny([RED, GREEN, CARRIER], dilutions=DILUTIONS)
    red = stock(made, "Red", strength=1.0).key
    without = changed.without_bottle(made, red)
    assert [s.label for s in without.stocks] == ["Carrier", "Green 10 % in dipropylene glycol (made)", "Green"]
    assert {(item.stock.label, item.reason) for item in without.set_aside} == {
        ("Red", "excluded"),
        ("Red 10 % in dipropylene glycol (made)", "excluded"),
    }
    assert changed.with_bottle_available(without, red).stocks == made.stocks


def test_a_bottle_past_its_date_may_be_poured_when_asked_for() -> None:
    made = tiny([RED | OLD, GREEN], shelf={"bottles": "bottles.csv", "overdue": "exclude"}, rows={"green": "100"})
    assert [item.reason for item in made.set_aside] == ["past its date"]
    there = changed.with_bottle_available(made, made.set_aside[0].stock.key)
    assert there.set_aside == ()
    assert {finding.code for finding in made.warnings} - {finding.code for finding in there.warnings} == {"overdue"}


def test_a_bottle_that_is_used_up_stays_away() -> None:
    made = tiny([RED | {"stock_g": "0"}, GREEN], rows={"green": "100"})
    there = changed.with_bottle_available(made, made.set_aside[0].stock.key)
    assert [item.reason for item in there.set_aside] == ["used up"]


def test_what_an_amount_asks_for_cannot_be_left_out() -> None:
    made = tiny(limits={"amount": [{"material": "Red", "at_least_g": 1}]})
    with pytest.raises(InvalidInput) as caught:
        changed.without_bottle(made, stock(made, "Red").key)
    assert [error.code for error in caught.value.errors] == ["nothing-to-pour"]
    assert changed.with_amount(made, "red").amounts == (), "a material by any spelling"


def test_a_cost_limit_asks_for_every_price() -> None:
    made = tiny([RED, GREEN | {"price_per_kg": ""}])
    with pytest.raises(InvalidInput) as caught:
        changed.with_keys(made, "limits", cost_per_kg=20.0)
    assert told(caught.value.errors) == [
        (
            "blank",
            "bottles.csv, row 3, column price_per_kg: blank, but cost is limited: what does Green cost per kg?",
        )
    ]


def test_a_weight_and_a_scale_move_the_factor() -> None:
    """Of green, 40 %: 1 / sqrt(0.4), then three times that, then 3."""
    made = tiny()
    heavier = changed.with_weight(made, "green", 3.0)
    assert row(heavier, "green").factor == pytest.approx(3 / 0.4**0.5)
    assert row(changed.with_keys(heavier, "fit", scale="equal"), "green").factor == 3.0
    assert row(made, "green").factor == pytest.approx(1 / 0.4**0.5), "the study given stays as it is"


def test_rows_multiplied_follow_the_scale_whenever_it_changes() -> None:
    """Green from 40 to 10 %: factor 1 / sqrt(0.1), or 1 / 0.1 by the relative scale."""
    quarter = changed.with_multiples(tiny(), {"green": 0.25, "red": 1.5})
    assert (row(quarter, "green").share, row(quarter, "red").share) == pytest.approx((0.1, 0.9))
    assert row(quarter, "green").factor == pytest.approx(1 / 0.1**0.5)
    relative = changed.with_keys(quarter, "fit", scale="relative")
    assert row(relative, "green").factor == pytest.approx(10)
    assert row(changed.with_multiples(quarter, {"green": 4.0}), "green").share == pytest.approx(0.4)


def test_a_bottle_more_may_price_a_blend() -> None:
    """Base is half red and has no price; with red at 6 and green at 50 a kg it costs 28."""
    parts = (
        {"material": "Base", "part": "red", "share": "50"},
        {"material": "Base", "part": "Green", "share": "50", "part_kind": "material"},
    )
    made = tiny([GREEN, {"material": "Base"}], compositions=parts)
    assert made.lacking == {stock(made, "Base").key: "red"}
    more = changed.with_bottle(made, Stock(StockKey("Red", 1.0, "", ""), pure("red", "Red"), 1.0, 1.0, 0.006))
    assert stock(more, "Base").price_per_g == pytest.approx(0.028)
    assert more.lacking == {}


def test_a_bottle_more_may_be_diluted() -> None:
    made = tiny([GREEN, CARRIER], dilutions=DILUTIONS)
    content = pure("blue", "Blue")
    more = changed.with_bottle(made, Stock(StockKey("Blue", 1.0, "", ""), content, 1.0, 1.0, 0.1, maximum_g=5.0))
    assert [s.label for s in more.stocks if s.key.material == "Blue"] == [
        "Blue 10 % in dipropylene glycol (made)",
        "Blue",
    ]
    assert stock(more, "Blue", strength=0.1).maximum_g == pytest.approx(50)
    assert row(more, "blue").kind == "foreign"
    with pytest.raises(ValueError, match="Blue stands on the shelf already"):
        changed.with_bottle(more, stock(more, "Blue", strength=1.0))


def pure(name: str, material: str) -> Content:
    return Content({name: 1.0}, {name: 1.0}, {material: 1.0}, 0.0, 0.0)


def refusals() -> dict[str, Any]:
    made = tiny([RED, GREEN, CARRIER], dilutions=DILUTIONS)
    settings = made.settings
    other = DilutionSettings((0.1,), "Green")
    return {
        "read the study again": lambda: changed.with_keys(made, "target", basis="fid-area"),
        "dilutions in Green": lambda: changed.with_settings(made, replace(settings, dilutions=other)),
        "not among the samples that were read: S9": lambda: changed.with_samples(made, ["S9"]),
        "only its grams can be changed, not price_per_kg": lambda: changed.with_bottle_cells(
            made, stock(made, "Red", strength=1.0).key, price_per_kg=3.0
        ),
        "no bottle of this study: Red, 0.1": lambda: changed.without_bottle(made, stock(made, "Red", strength=0.1).key),
        'the target has no row "blue"': lambda: changed.with_weight(made, "blue", 2.0),
        "no rule of this study claims R, each": lambda: changed.with_rule(
            made, LimitKey("restricted", ("R", "each", "any", "red")), 0.1
        ),
    }


@pytest.mark.parametrize("sentence", refusals())
def test_refused(sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        refusals()[sentence]()


def test_samples_not_read_are_refused() -> None:
    target = "constituent,G1,G2\ngeraniol,60,50\ncitronellol,40,50"
    made = study(target=target, settings={"target": {"samples": ["G1"]}})
    with pytest.raises(ValueError, match="not among the samples that were read: G2"):
        changed.with_samples(made, [])


def test_what_stays_is_the_same_object() -> None:
    """So that stating anew is no work: stocks, contents of rows and limits nobody touched."""
    made = tiny([RED, GREEN, CARRIER], dilutions=DILUTIONS, limits={"cost_per_kg": 30, "lines": 2})
    before = state(made)
    cheaper = changed.with_keys(made, "limits", cost_per_kg=20.0)
    after = restate(before, made, cheaper)
    assert (cheaper.stocks, cheaper.set_aside) == (made.stocks, made.set_aside)
    assert cheaper.stocks is made.stocks
    assert after.content is before.content
    assert after.limits[1] is before.limits[1]
    assert after.limits[0] is not before.limits[0]


def test_a_changed_study_can_be_stated_in_fractions_and_sent_elsewhere() -> None:
    made = tiny([RED, GREEN, CARRIER], dilutions=DILUTIONS, limits={"cost_per_kg": 30})
    other = changed.with_weight(changed.with_keys(made, "limits", cost_per_kg=20.0), "red", 2.0)
    other = changed.with_bottle_cells(other, stock(other, "Green", strength=1.0).key, stock_g=4.0)
    check_same(in_fractions(other), state(other))
    sent = pickle.loads(pickle.dumps(other))
    assert changed.without_bottle(sent, stock(sent, "Red", strength=1.0).key).stocks == (
        changed.without_bottle(other, stock(other, "Red", strength=1.0).key).stocks
    )


@pytest.mark.parametrize(
    ("section", "keys", "said"),
    [
        ("limits", {"lines": 0}, "0 is below 1."),
        ("limits", {"lines": 3.5}, "a whole number is needed here."),
        ("limits", {"lines": True}, "a number is needed here."),
        ("limits", {"cost_per_kg": -1.0}, "-1 is below 0."),
        ("limits", {"cost_per_kg": "20"}, "a number is needed here."),
        ("limits", {"cost_per_kg": float("inf")}, "inf is not a finite number."),
        ("limits", {"undeclared": "10 %"}, "a number is needed here, a fraction."),
        ("limits", {"undeclared": 10}, "1000 % is over 100 %."),
        ("limits", {"amounts": (AmountSettings("Red", 5, 1),)}, "at_least_g is above at_most_g."),
        ("limits", {"amounts": (AmountSettings("Red", -1),)}, "-1 is below 0."),
        ("limits", {"amounts": (AmountSettings("Red", 1, exactly_g=1),)}, "exactly_g stands alone."),
        ("limits", {"amounts": (AmountSettings("Red"),)}, "how much? Give at_least_g, at_most_g or exactly_g."),
        ("limits", {"exclude": "Red"}, "a tuple is needed here."),
        ("batch", {"accord_g": 0}, "0 must be above 0."),
        ("batch", {"accord_g": None}, "missing; mass of the target's own constituents is needed."),
        ("batch", {"accord_g": float("nan")}, "nan is not a finite number."),
        ("fit", {"measure": "cubes"}, '"cubes" is none of squares, absolute, worst.'),
    ],
)
def test_what_no_study_file_could_say_is_a_finding(section: str, keys: dict[str, Any], said: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        changed.with_keys(tiny(), section, **keys)
    assert [(error.message, (error.place.column or "").split(".")[0]) for error in caught.value.errors] == [
        (said, section)
    ]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda it: changed.with_keys(it, "dilutions", most=1), "no section [dilutions]"),
        (lambda it: changed.with_keys(it, "nonsuch", most=1), "no section [nonsuch]"),
        (lambda it: changed.with_keys(it, "limits", most=1), "no such key in [limits]: most"),
        (lambda it: changed.with_rule(it, LimitKey("cost"), 1), "no claim of a rule: cost"),
        (lambda it: changed.with_rule(it, LimitKey("restricted", ("a", "each", "any", "b")), -1), "cannot allow -1"),
        (lambda it: changed.with_weight(it, "green", -1), "weight: -1 is below 0"),
        (lambda it: changed.with_multiples(it, {"green": float("nan")}), "no multiples: green nan"),
        (lambda it: changed.with_bottle_cells(it, stock(it, "Red").key, stock_g=-1), "stock_g: -1 is below 0"),
        (lambda it: changed.with_bottle_cells(it, stock(it, "Red").key, step_g=0), "step_g: 0 must be above 0"),
    ],
)
def test_what_a_study_has_not_or_cannot_hold_is_refused(change: Any, said: str) -> None:
    with pytest.raises(ValueError, match=re.escape(said)):
        change(tiny())
