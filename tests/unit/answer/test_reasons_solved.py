"""One small study a cause, with that cause built in: the reason names it. What was once said wrongly is not."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from tests.tiny_study import CARRIER, GREEN, RED, Row, tiny

from reaccord.answer.fit import fit
from reaccord.answer.judge import judge
from reaccord.answer.why.reason import Reason
from reaccord.answer.why.reasons import reasons
from reaccord.domain.study import Study

BLUE = {"material": "Blue", "constituent": "blue", "purity": "100", "price_per_kg": "10"}
ROWS = {"red": "60", "green": "30", "blue": "10"}
FINE = {"readability_g": 0.001, "minimum_g": 0.001}


def bottle(material: str) -> Row:
    return {"material": material, "price_per_kg": "10"}


def parts(material: str, **shares: str) -> list[Row]:
    return [{"material": material, "part": part, "share": share} for part, share in shares.items()]


def why(study: Study) -> Mapping[str, Reason]:
    return fit(study).reasons


def given(study: Study, grams: Mapping[str, float]) -> Mapping[str, Reason]:
    amounts = {stock.key: grams.get(stock.key.material, 0.0) for stock in study.stocks}
    return reasons(study, judge(study, amounts), optimised=False)


def test_cost() -> None:
    said = why(tiny([RED, GREEN, BLUE | {"price_per_kg": "500"}], rows=ROWS, limits={"cost_per_kg": 30}))["blue"]
    assert (said.code, said.sentence) == ("limit", "held by the limit cost: without it 8.47 points nearer")
    assert said.gain == pytest.approx(0.0847, abs=1e-4)


def test_a_restricted_constituent() -> None:
    said = why(tiny([RED, GREEN, BLUE], rows=ROWS, rules=[{"rule": "Blue rule", "members": "blue", "max": "0.1"}]))
    assert said["blue"].sentence == "held by the limit Blue rule: blue: without it 5.00 points nearer", (
        "0.1 % of 2 % is 5 %"
    )
    assert said["blue"].code == "limit"


def test_lines() -> None:
    said = why(tiny([RED, GREEN, BLUE], rows=ROWS, limits={"lines": 2}))
    assert said["blue"].sentence == "held by the limit lines: without it 10.00 points nearer"


def test_stock() -> None:
    said = why(tiny([RED, GREEN, BLUE | {"stock_g": "0.4"}], rows=ROWS))["blue"]
    assert (said.code, said.sentence) == ("used_up", "Blue is used up: with more of it 6.00 points nearer")


def test_carrier() -> None:
    weak = BLUE | {"strength": "10", "carrier": "dipropylene glycol"}
    said = why(tiny([RED, GREEN, weak, CARRIER], rows=ROWS, batch={"carrier_max_g": 4.5}))["blue"]
    assert said.sentence == "held by the limit carrier: without it 5.00 points nearer", "4.5 g of carrier bring 0.5 g"


def test_dilutions_that_may_be_made() -> None:
    violet = {"material": "Violet", "constituent": "violet", "purity": "100"}
    study = tiny(
        [RED, GREEN, BLUE, violet, CARRIER],
        rows={"red": "60", "green": "38", "blue": "1", "violet": "1"},
        balance={"readability_g": 0.01, "minimum_g": 0.4},
        dilutions={"strengths": ["10 %"], "carrier": "dipropylene glycol", "most": 1},
    )
    said = {reason.sentence for label, reason in why(study).items() if label in {"blue", "violet"}}
    assert "held by the limit dilutions made: without it 1.00 points nearer" in said


def test_less_than_can_be_weighed_and_the_dilution_that_frees_it() -> None:
    rows, balance = {"red": "60", "green": "39", "blue": "1"}, {"readability_g": 0.01, "minimum_g": 0.5}
    said = why(tiny([RED, GREEN, BLUE, CARRIER], rows=rows, balance=balance))["blue"]
    assert said.code == "below_balance"
    assert said.sentence == "less of Blue is wanted than can be weighed (0.5 g): diluted to 10 % 1.00 points nearer"
    alone = why(tiny([RED, GREEN, BLUE], rows=rows, balance=balance))["blue"]
    assert alone.sentence.endswith("diluted to 10 % (no carrier on the shelf) 1.00 points nearer")
    assert said.gain == pytest.approx(0.01, abs=1e-4)


def test_less_than_can_be_weighed_and_the_batch_that_frees_it() -> None:
    """No carrier may be poured: no dilution helps."""
    study = tiny(
        [RED, GREEN, BLUE, CARRIER],
        rows={"red": "60", "green": "39", "blue": "1"},
        batch={"carrier_max_g": 0},
        balance={"readability_g": 0.01, "minimum_g": 0.5},
    )
    said = why(study)["blue"]
    assert said.sentence == (
        "less of Blue is wanted than can be weighed (0.5 g): in a batch of 50 g 1.00 points nearer"
    )


def test_a_dilution_that_may_be_made_already_frees_nothing() -> None:
    """One dilution may be made, and violet has it: what helps blue is a larger batch, or one dilution more."""
    violet = {"material": "Violet", "constituent": "violet", "purity": "100"}
    study = tiny(
        [RED, GREEN, BLUE, violet, CARRIER],
        rows={"red": "60", "green": "38.5", "blue": "0.7", "violet": "0.8"},
        balance={"readability_g": 0.01, "minimum_g": 0.4},
        dilutions={"strengths": ["10 %"], "carrier": "dipropylene glycol", "most": 1},
    )
    assert not any("diluted to" in reason.sentence for reason in why(study).values())


def test_a_source_set_aside_and_what_it_would_bring() -> None:
    held = why(tiny([RED, GREEN, BLUE], rows=ROWS, limits={"exclude": ["Blue"]}))["blue"]
    assert (held.code, held.sentence) == ("set_aside", "only Blue holds it: excluded; with it 10.00 points nearer")
    assert held.gain == pytest.approx(0.1)


def test_a_source_set_aside_that_would_not_help() -> None:
    """Two lines, red and green, come closer than any two with blue."""
    limits = {"exclude": ["Blue"], "lines": 2}
    alone = why(tiny([RED, GREEN, BLUE], rows=ROWS, limits=limits))["blue"]
    assert (alone.sentence, alone.gain) == ("only Blue holds it: excluded; with it no nearer", None)
    oil = parts("Green oil", green="95", blue="5")
    other = why(tiny([RED, bottle("Green oil"), BLUE], rows=ROWS, compositions=oil, limits=limits))["blue"]
    assert other.code == "traded"


def test_traded_for_others() -> None:
    """Sea is poured for its red too, of which there is too little: so there is too much of blue."""
    compositions = [*parts("Sea", blue="50", red="50"), *parts("Rust", red="50", grey="50")]
    rows = {"red": "50", "green": "20", "blue": "30"}
    said = why(tiny([bottle("Sea"), bottle("Rust"), GREEN], rows=rows, compositions=compositions))
    assert {said[label].code for label in ("blue", "green")} == {"traded"}
    assert said["green"].sentence == "traded for others: 20.00 % can be had at no more than twice the deviation"
    assert said["green"].gain == pytest.approx(0.2099 - 0.2, abs=1e-4)


def test_too_much_because_no_less_can_be_weighed() -> None:
    study = tiny(
        [RED, GREEN, BLUE, CARRIER],
        rows={"red": "60", "green": "37.5", "blue": "2.5"},
        balance={"readability_g": 0.01, "minimum_g": 0.4},
    )
    said = why(study)["blue"]
    assert said.code == "below_balance"
    assert said.sentence == "less of Blue is wanted than can be weighed (0.4 g): diluted to 10 % 1.50 points nearer"


def test_fills_in() -> None:
    said = why(tiny(rows=ROWS))
    assert {said[row].code for row in ("red", "green")} == {"fills_in"}
    assert said["red"].gain == pytest.approx(0.6667 - 0.6, abs=1e-4)


def test_given_up_for_fewer_lines() -> None:
    rows = {"red": "58", "green": "36", "blue": "1", "violet": "5"}
    said = why(tiny([RED, GREEN, BLUE], rows=rows, fit={"shorten": "100 %"}))["blue"]
    assert said.code == "shortened"
    assert said.sentence == "given up for fewer lines: 0.95 points nearer in the closest formula"


def test_of_a_given_formula_only_shelf_and_formula_are_reasons() -> None:
    study = tiny([RED, GREEN, BLUE], rows=ROWS)
    said = given(study, {"Red": 6, "Green": 3})["blue"]
    assert (said.code, said.sentence) == ("more_would", "1.0 g more of Blue would bring it; nothing holds that back")
    assert said.gain == pytest.approx(0.1)


def test_of_a_given_formula_a_limit_holds_more_back() -> None:
    study = tiny([RED, GREEN, BLUE | {"stock_g": "0.5"}], rows=ROWS)
    said = given(study, {"Red": 6, "Green": 3})["blue"]
    assert said.sentence == "1.0 g more of Blue would bring it, but not within the limit Blue: on hand"


def test_more_of_it_is_never_said_beside_a_formula_proven_closest() -> None:
    for limits in ({"lines": 2}, {"cost_per_kg": 30}, {}):
        found = fit(tiny([RED, GREEN, BLUE | {"price_per_kg": "500"}], rows=ROWS, limits=limits))
        assert found.answer.status == "proven"
        assert "more_would" not in {reason.code for reason in found.reasons.values()}


def test_a_bottle_poured_to_its_end_does_not_fill_in() -> None:
    said = why(tiny([RED | {"stock_g": "6.2"}, GREEN], rows=ROWS))
    assert "red" not in said or said["red"].code != "fills_in"


def test_no_surplus_comes_with_a_bottle_poured_for_its_own_sake() -> None:
    """Less of Red could be poured: that more is, comes with no bottle."""
    said = why(tiny([RED, GREEN | {"stock_g": "2"}]))
    assert said["red"].code == "used_up"


def test_nothing_is_outweighed_where_lines_are_limited() -> None:
    found = fit(tiny([RED, GREEN, BLUE], rows=ROWS, limits={"lines": 2}))
    assert not any("outweigh" in reason.sentence for reason in found.reasons.values())
    assert {reason.code for reason in found.reasons.values()} == {"limit"}
