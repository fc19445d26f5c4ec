"""When nothing fits, exactly the limits in conflict are named."""

from __future__ import annotations

import re

import pytest
from tests.random_studies import draw
from tests.seeds import seeds
from tests.tiny_study import CARRIER, GREEN, OIL, OIL_PARTS, RED, tiny

from reaccord.answer.fit import fit
from reaccord.answer.why.conflict import explain, sentences_of, with_set_aside
from reaccord.answer.why.dropped import possible_without
from reaccord.domain.study import Study
from reaccord.findings import NoFormula
from reaccord.programme import state
from reaccord.solvers.possible import possible

DPG = "dipropylene glycol"
IDLE = {"cost_per_kg": 1000, "undeclared": "50 %"}
"""Limits that are never in the way, to be left out of every sentence."""


def named(study: Study) -> list[str]:
    """Return the sentences listed, after checking that `fit` says them too."""
    with pytest.raises(NoFormula) as caught:
        fit(study)
    text = explain(study, state(study))
    assert str(caught.value) == text
    return sorted(re.split(r" {3,}", line.strip())[0] for line in text.splitlines() if line.startswith("  "))


def test_one_limit_alone() -> None:
    study = tiny(limits=IDLE | {"cost_per_kg": 5})
    assert named(study) == ["cost at most 5.00 per kg of accord"]
    assert "This alone cannot hold for 10 g" in explain(study, state(study))


def test_cost_against_an_amount() -> None:
    study = tiny(limits={"cost_per_kg": 20, "lines": 2, "amount": [{"material": "Green", "at_least_g": 9}]})
    assert named(study) == ["Green at least 9 g", "cost at most 20.00 per kg of accord"]


def test_lines_against_two_amounts() -> None:
    amounts = [{"material": "Red", "at_least_g": 1}, {"material": "Green", "at_least_g": 2}]
    study = tiny(limits=IDLE | {"lines": 1, "amount": amounts})
    assert named(study) == ["Green at least 2 g", "Red at least 1 g", "at most 1 line"]


def test_only_the_row_of_an_amount_that_is_in_the_way() -> None:
    """At least 1 g is harmless; at most 2 g of the only two bottles leaves the batch unfilled."""
    amounts = [{"material": name, "at_least_g": 1, "at_most_g": 2} for name in ("Red", "Green")]
    assert named(tiny(limits={"amount": amounts})) == ["Green at most 2 g", "Red at most 2 g"]


def test_only_the_member_of_a_rule_that_is_in_the_way() -> None:
    """The rule's other member could stay: at 2 % in the product, 0.6 % of red leaves 70 % green."""
    rules = [
        {"rule": "A", "members": "red; green", "kind": "each", "max": "1.9"},
        {"rule": "B", "members": "red", "max": "0.01"},
    ]
    assert named(tiny(rules=rules)) == ["A: green at most 1.9 % in the product", "B: red at most 0.01 % in the product"]


def test_grams_on_hand() -> None:
    study = tiny([RED | {"stock_g": "3"}, GREEN | {"stock_g": "4"}], limits=IDLE)
    assert named(study) == ["the grams on hand"]


def test_smallest_weighable_masses() -> None:
    study = tiny(limits=IDLE, balance={"readability_g": 0.01, "minimum_g": 20})
    assert named(study) == ["the smallest weighable masses"]


def test_carrier_against_bought_dilutions() -> None:
    weak = {"strength": "10", "carrier": DPG}
    study = tiny([RED | weak, GREEN | weak], batch={"carrier_max_g": 60}, limits=IDLE)
    assert named(study) == ["carrier at most 60 g"]


def test_undeclared() -> None:
    study = tiny([RED | {"purity": "90"}, GREEN | {"purity": "90"}], limits={"undeclared": "5 %", "lines": 2})
    assert named(study) == ["undeclared mass at most 5 % of the accord"]


def test_prohibited_against_the_only_source() -> None:
    rules = [{"rule": "No red", "members": "red", "max": None, "kind": "prohibited"}]
    study = tiny([OIL], compositions=OIL_PARTS, rules=rules, limits=IDLE)
    assert named(study) == ["No red: red at most 0 % in the product"]


def test_carrier_on_hand_with_what_must_be_made() -> None:
    """Green neat is over its `at most` at 0.5 g; 5 g of a tenth solution take 4.5 g of the 5 g of carrier."""
    amounts = [
        {"material": "Green", "at_least_g": 0.1, "at_most_g": 0.4},
        {"material": "Carrier", "at_least_g": 1},
    ]
    study = tiny(
        [CARRIER | {"stock_g": "5"}, RED, GREEN],
        balance={"readability_g": 0.01, "minimum_g": 0.5},
        dilutions={"strengths": ["10 %"], "carrier": DPG},
        limits=IDLE | {"amount": amounts},
    )
    assert named(study) == [
        "Carrier at least 1 g",
        "Carrier: 5 g on hand, with all dilutions made",
        "Green at least 0.1 g",
        "Green at most 0.4 g",
        "the smallest weighable masses",
    ]


def test_what_is_excluded_is_a_limit_like_others() -> None:
    """Either bottle alone makes the batch."""
    study = tiny([RED, GREEN, CARRIER], limits={"exclude": ["Red", "Green"]} | IDLE)
    assert named(study) == ["Green is left out: excluded", "Red is left out: excluded"]


def test_what_is_past_its_date_is_named_with_the_limit_that_needs_it() -> None:
    old = GREEN | {"opened": "2020-01-01", "keeps_months": "6"}
    study = tiny([RED | {"stock_g": "4"}, old], shelf={"overdue": "exclude"}, limits=IDLE)
    assert named(study) == ["Green is left out: past its date", "the grams on hand"], "4 g of Red are not enough"
    study = tiny([old], shelf={"overdue": "exclude"}, limits=IDLE)
    assert named(study) == ["Green is left out: past its date"]


def test_nothing_makes_the_target() -> None:
    study = tiny([GREEN, RED], rows={"blue": "100"})
    with pytest.raises(NoFormula, match="even without any limit"):
        fit(study)


@seeds(1000, 1025, 1080)
def test_what_is_named_is_a_conflict_and_no_smaller_one(seed: int) -> None:
    """Without any one of the sentences there is a formula."""
    study = draw(seed, measure="squares").study()
    programme = state(study)
    if possible(programme):
        return
    listed, programme = named(study), with_set_aside(study, programme)
    sentences = sentences_of(programme)
    others = {key for sentence, keys in sentences.items() if sentence not in listed for key in keys}
    assert listed
    assert set(listed) <= set(sentences)
    assert not possible_without(programme, others)
    for sentence in listed:
        assert possible_without(programme, others | sentences[sentence])
