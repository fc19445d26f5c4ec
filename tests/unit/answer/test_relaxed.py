"""What is said to be possible is, and can be weighed; a hair less is not."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from tests.random_studies import KEYS_OF, draw
from tests.seeds import seeds
from tests.tiny_study import GREEN, RED, tiny
from tests.unit.solvers.hand import limited, singles

from reaccord.answer.fit import fit
from reaccord.answer.why.conflict import SECONDS, sentences_of, with_set_aside
from reaccord.answer.why.dropped import ON_HAND, WEIGHABLE, Dropped
from reaccord.answer.why.relaxed import relaxed
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.study import Study
from reaccord.findings import NoFormula
from reaccord.programme import state
from reaccord.solvers.possible import least_of, possible
from reaccord.study.changed import with_amount, with_bottle_cells, with_keys, with_rule


def said(study: Study) -> dict[str, str]:
    """Return how far each limit of the conflict must give way, by its sentence."""
    with pytest.raises(NoFormula) as caught:
        fit(study)
    lines = [re.split(r" {3,}", line.strip()) for line in str(caught.value).splitlines() if line.startswith("  ")]
    return {line[0]: line[1] if len(line) > 1 else "" for line in lines}


def number(text: str) -> float:
    return float(re.findall(r"[\d.]+", text)[0])


def has_formula(study: Study) -> bool:
    return possible(state(study))


def test_a_price_says_from_where() -> None:
    found = said(tiny(limits={"cost_per_kg": 5}))
    (way,) = found.values()
    least = number(way)
    assert has_formula(tiny(limits={"cost_per_kg": least}))
    assert not has_formula(tiny(limits={"cost_per_kg": least - 0.02}))


def test_of_two_each_says_how_far_it_must_give_way_alone() -> None:
    def made(cost: float, grams: float) -> Study:
        return tiny(limits={"cost_per_kg": cost, "amount": [{"material": "Green", "at_least_g": grams}]})

    found = said(made(20, 9))
    cost, grams = number(found["cost at most 20.00 per kg of accord"]), number(found["Green at least 9 g"])
    assert has_formula(made(cost, 9))
    assert not has_formula(made(cost - 0.02, 9))
    assert found["Green at least 9 g"].startswith("possible up to")
    assert has_formula(made(20, grams))
    assert not has_formula(made(20, grams * 1.01))


def test_lines_and_three_amounts() -> None:
    amounts = [{"material": "Red", "at_least_g": 1}, {"material": "Green", "at_least_g": 2}]
    found = said(tiny(limits={"lines": 1, "amount": amounts}))
    assert found["at most 1 line"] == "possible from 2"
    assert found["Red at least 1 g"] == found["Green at least 2 g"] == "possible up to 0 g"


def test_rules_in_percent_of_the_product() -> None:
    rules = [{"rule": "A", "members": "green", "max": "0.5"}, {"rule": "B", "members": "red", "max": "0.5"}]
    found = said(tiny(rules=rules))
    for sentence, way in found.items():
        assert way.endswith(" %"), sentence
        name = sentence[:1]
        eased = [row | ({"max": f"{number(way):.6g}"} if row["rule"] == name else {}) for row in rules]
        assert has_formula(tiny(rules=eased))
        tight = [row | ({"max": f"{number(way) * 0.98:.6g}"} if row["rule"] == name else {}) for row in rules]
        assert not has_formula(tiny(rules=tight))


def test_a_conflict_of_minima_alone_says_the_batch() -> None:
    """Two lines of 20 g at least make no batch of 10 g."""
    found = said(tiny(balance={"readability_g": 0.01, "minimum_g": 20}))
    least = number(found["the smallest weighable masses"])
    assert found["the smallest weighable masses"].startswith("possible from a batch of")
    assert has_formula(tiny(balance={"readability_g": 0.01, "minimum_g": 20}, batch={"accord_g": least}))
    assert not has_formula(tiny(balance={"readability_g": 0.01, "minimum_g": 20}, batch={"accord_g": 0.98 * least}))


def test_an_old_lot_says_how_much_it_makes() -> None:
    bottles = [RED | {"stock_g": "3"}, GREEN | {"stock_g": "4"}]
    assert said(tiny(bottles))["the grams on hand"] == "possible up to a batch of 7.00 g"


def test_two_conflicts_are_not_called_one() -> None:
    """Neither the price nor the amount is the whole of it: dropping one leaves the other conflict."""
    amounts = [{"material": "Green", "at_least_g": 9}]
    study = tiny([RED | {"stock_g": "0.5"}, GREEN | {"stock_g": "0.5"}], limits={"cost_per_kg": 5, "amount": amounts})
    with pytest.raises(NoFormula) as caught:
        fit(study)
    assert "Dropping any one of them gives a formula" not in str(caught.value)
    assert "another conflict" in str(caught.value)


def test_of_what_nothing_else_wants_all_that_is_on_hand_counts() -> None:
    # the carrier only harms but for the limit that is left out: how much of it there can be is asked for
    carrier = replace(
        singles([1.0, 0.0]), basis=np.array([1.0, 0.0]), content=np.array([[1.0, 0.0], [0.0, 0.0]]),
        maximum=np.array([np.inf, 3.0]), minimum=np.array([0.0, 1.0]),
    )  # fmt: skip
    carrier = limited(carrier, 20.0, amounts=[0.0, 1.0])
    assert least_of(carrier, np.array([0.0, -1.0]), np.zeros(2), 5.0) == pytest.approx([10.0, 3.0])


def test_what_is_told_can_be_weighed() -> None:
    """At least 3.33 g of Green on a balance that reads 0.1 g are 3.4 g, with 6.6 g of Red: 236 for the 10 g."""
    coarse = {"readability_g": 0.1}
    amounts = [{"material": "Green", "at_least_g": 3.33}]
    found = said(tiny(limits={"cost_per_kg": 20, "amount": amounts}, balance=coarse))
    assert found["cost at most 20.00 per kg of accord"] == "possible from 23.60"
    assert found["Green at least 3.33 g"] == "possible up to 2.50 g"
    poured = fit(tiny(limits={"cost_per_kg": 23.6, "amount": amounts}, balance=coarse)).amounts
    assert {key.material: grams for key, grams in poured.items()} == {"Green": 3.4, "Red": 6.6}


def test_a_batch_that_is_told_can_be_weighed() -> None:
    """29.2 g hold every limit, and no whole steps of the balance do."""
    study = draw(330).study()
    (_, _, way) = said(study).values()
    assert fit(with_keys(study, "batch", accord_g=number(way))).amounts


def test_where_nothing_that_can_be_weighed_is_found_it_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reaccord.answer.why.relaxed.weighed", lambda *_: None)
    found = said(tiny(limits={"cost_per_kg": 20, "amount": [{"material": "Green", "at_least_g": 9}]}))
    assert found["cost at most 20.00 per kg of accord"] == "possible from 46.00 or a little more"
    assert found["Green at least 9 g"] == "possible up to 2.50 g or a little less"


def test_no_study_is_told_a_share_over_100_percent() -> None:
    """Of an oil that is a tenth red and green there are nine grams undeclared to a gram of accord."""
    parts = [{"material": "Oil", "part": name, "share": "5"} for name in ("red", "green")]
    study = tiny([{"material": "Oil"}], compositions=parts, limits={"undeclared": "5 %"})
    assert said(study) == {"undeclared mass at most 5 % of the accord": ""}


@seeds(30, 36, 110, 800)
def test_loosened_as_told_a_formula_is_found(seed: int) -> None:
    study = draw(seed).study()
    if possible(state(study)):
        return
    asked = Dropped(with_set_aside(study, state(study)))
    for keys in sentences_of(asked.programme).values():
        way = relaxed(study, asked, keys, SECONDS, alone=asked.possible(keys)) if asked.possible(keys) else ""
        if way:
            assert fit(loosened(study, keys, way)).amounts, (keys, way)


def loosened(study: Study, keys: frozenset[LimitKey], way: str) -> Study:
    """Return the study with one limit as it is told."""
    told = number(way) / (100 if "%" in way else 1)
    if keys & {WEIGHABLE, ON_HAND}:
        return with_keys(study, "batch", accord_g=told)
    kind = "amount at least" if "up to" in way else "amount at most"
    key = next(iter(keys)) if len(keys) == 1 else next(key for key in keys if key.kind == kind)
    if key.kind == "restricted":
        return with_rule(study, key, told)
    if key.kind == "on hand":
        bottle = next(stock.key for stock in study.every_stock if stock.key.subject == key.subject)
        return with_bottle_cells(study, bottle, stock_g=told)
    if key.kind.startswith("amount"):
        asked = next(one for one in study.amounts if one.material == key.subject[0])
        least, most = (told, asked.most_g) if key.kind == "amount at least" else (asked.least_g, told)
        most_g = None if math.isinf(most) else most
        return with_amount(study, key.subject[0], at_least_g=least or None, at_most_g=most_g)
    section, name = KEYS_OF[key.kind]
    return with_keys(study, section, **{name: int(told) if section == "dilutions" or name == "lines" else told})
