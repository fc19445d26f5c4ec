"""Rules that are called like other limits, like a bottle or like each other: every question keeps them apart."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from tests.tiny_study import CARRIER, GREEN, OIL, OIL_PARTS, RED, tiny

from reaccord.answer.fit import fit
from reaccord.answer.judge import judge
from reaccord.answer.why.conflict import explain
from reaccord.certificate.origin import check_origin
from reaccord.certificate.verify import verify
from reaccord.certificate.write import certify
from reaccord.contract import Budget, FloatArray
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.limits import WHOLE_FORMULA
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import NoFormula, UsageError
from reaccord.programme import state
from reaccord.questions.axis import axis_of
from reaccord.questions.frontier import frontier
from reaccord.questions.overdose.series import overdose
from reaccord.questions.overdose.wanted import read_times, read_wanted
from reaccord.questions.spread.spread import spread
from reaccord.report.data import fit_data
from reaccord.report.spread import spread_data

NAMES = ("cost", "lines", "carrier", "undeclared", "Red: on hand", "Red: strengths used", "Red at most", "rule: cost")
BALANCE = {"readability_g": 0.001, "minimum_g": 0.02}
LIMITS = {
    "cost_per_kg": 30,
    "lines": 3,
    "undeclared": "5 %",
    "amount": [{"material": "Red", "at_least_g": 1, "at_most_g": 8}],
}


def rule(name: str, most: str = "1.9", **more: str) -> dict[str, str]:
    """Return a rule on red and green together: at a dosage of 2 % there are always 2 % of them."""
    return {"rule": name, "members": "red; green", "max": most, "kind": "sum"} | more


def called(name: str) -> str:
    """Return what people read: a rule that is called like a limit on the whole formula is said to be one."""
    return f"{name} (rule)" if name in WHOLE_FORMULA else name


def made(name: str, most: str, **more: str) -> Study:
    bottles = [RED | {"stock_g": "9"}, GREEN | {"stock_g": "9"}, CARRIER | {"stock_g": "500"}]
    batch = {"accord_g": 10, "carrier_max_g": 4}
    return tiny(bottles, rules=[rule(name, most, **more)], batch=batch, limits=LIMITS, balance=BALANCE)


def only(name: str) -> LimitKey:
    return LimitKey("restricted", (name, "sum", "soap", "green", "red"))


def poured(study: Study, red: float, green: float) -> dict[StockKey, float]:
    grams = {"Red": red, "Green": green}
    return {s.key: grams[s.key.material] for s in study.stocks if s.key.material in grams}


@pytest.mark.parametrize("name", NAMES)
def test_fit_and_its_data_keep_both(name: str) -> None:
    found = fit(made(name, "2.5"))
    data = fit_data(found)["limits"]
    keys = [(row["kind"], tuple(row["subject"])) for row in data]
    assert len(set(keys)) == len(keys)
    (at,) = [row for row in data if row["kind"] == "restricted"]
    assert (at["label"], at["subject"]) == (called(name), list(only(name).subject))
    assert (at["value"], at["limit"]) == pytest.approx((0.02, 0.025))
    cost = next(row for row in data if row["kind"] == "cost")
    assert (cost["limit"], at["binding"]) == (30, False)


@pytest.mark.parametrize("name", NAMES)
def test_what_binds_is_not_taken_from_another_of_the_same_name(name: str) -> None:
    """The rule binds and the other limits do not: a binding limit is carried over from before rounding by its key."""
    found = fit(made(name, "2"))
    binding = {state.key for state in found.judged.limits if state.binding}
    assert only(name) in binding
    assert not binding & {LimitKey("cost"), LimitKey("carrier"), LimitKey("undeclared"), LimitKey("lines")}


@pytest.mark.parametrize("name", ["Red: on hand", "Red: strengths used"])
def test_a_rule_is_no_reason_that_a_bottle_is(name: str) -> None:
    """Red is short of 60 %, held by its amount: not used up, although a rule that binds is called like its bottle."""
    limits = {"amount": [{"material": "Red", "at_most_g": 5}]}
    study = tiny([RED | {"stock_g": "9"}, GREEN], rules=[rule(name, "2")], limits=limits, balance=BALANCE)
    assert "used up" not in fit(study).reasons["red"].sentence


@pytest.mark.parametrize("name", NAMES)
def test_a_conflict_names_the_rule_alone(name: str) -> None:
    study = made(name, "1.5")
    with pytest.raises(NoFormula):
        fit(study)
    lines = [line.strip() for line in explain(study, state(study)).splitlines() if line.startswith("  ")]
    listed = [line.partition("  ")[0] for line in lines]  # behind it, from where on a formula is possible
    assert f"{called(name)} at most 1.5 % in the product" in listed
    assert not {"cost at most 30.00 per kg", "at most 3 lines", "Red at most 8 g"} & set(listed)


@pytest.mark.parametrize("name", NAMES)
def test_a_spread_counts_each_by_itself(name: str) -> None:
    """Nothing varies: a limit is broken in all draws or in none."""
    study = made(name, "1.9")
    found = spread(study, poured(study, 6, 4), 50)
    shares = {broken.key: broken.share for broken in found.outcome.broken}
    assert shares.pop(only(name)) == 1
    assert set(shares.values()) == {0}
    rows = [row for row in spread_data(found)["broken"] if row["share_of_draws"]]
    assert [(row["limit"], row["kind"]) for row in rows] == [(called(name), "restricted")]


@pytest.mark.parametrize("name", NAMES)
def test_the_best_for_the_spread_holds_the_rule_in_the_draws(name: str) -> None:
    """Half of the draws may break it: contents may be nearer to their means than to their highest."""
    study = tiny([OIL, GREEN, RED], compositions=OIL_PARTS, rules=[rule(name, "2.1")], balance=BALANCE)
    found = spread(study, fit(study).amounts, 400, robust=True, hold=0.5, budget=Budget(seconds=20)).compared
    assert found is not None
    assert found.robust.broken[0].key == only(name)
    assert found.robust.broken[0].share <= 0.55


@pytest.mark.parametrize(("word", "own"), [("cost", 30), ("lines", 3), ("carrier", 4)])
def test_an_axis_is_told_from_a_rule_of_its_name(word: str, own: float) -> None:
    study = made(word, "2.5")
    assert axis_of(study, word).own(study) == own
    rule_axis = axis_of(study, f"{word} (rule)")
    assert rule_axis.own(study) == axis_of(study, f"{word}, sum, soap, green, red").own(study) == 0.025
    free = rule_axis.at(study, None)
    assert {row.key.kind for row in state(free).limits} >= {"cost", "lines", "carrier", "undeclared"}


@pytest.mark.parametrize("name", NAMES[4:])
def test_a_curve_against_a_rule_called_like_another_limit(name: str) -> None:
    found = frontier(made(name, "2.5"), name, Budget(seconds=20))
    assert found.points
    assert found.axis.quantity(found.study, poured(found.study, 6, 4)) == pytest.approx(0.02)


def test_two_rules_of_one_name_for_any_product_and_for_this_one() -> None:
    """Both hold: neither hides the other, and the stricter of them is what binds and what is broken."""
    rules = [rule("Colours", "2.5"), rule("Colours", "1.9", product="any")]
    study = tiny(rules=rules)
    judged = judge(study, poured(study, 6, 4))
    assert [(state.key.subject[2], state.held) for state in judged.limits] == [("any", False), ("soap", True)]
    shares = spread(study, poured(study, 6, 4), 20).outcome.broken
    assert [(found.key.subject[2], found.share) for found in shares] == [("any", 1.0), ("soap", 0.0)]
    with pytest.raises(UsageError, match="2 limits are called"):
        axis_of(study, "colours")
    assert axis_of(study, "Colours, sum, any, green, red").own(study) == 0.019


@pytest.mark.parametrize("name", NAMES)
def test_a_series_is_refused_by_the_rule_and_not_for_want_of_a_bottle(name: str) -> None:
    study = made(name, "1.9")
    (step,) = overdose(study, poured(study, 6, 4), read_wanted(study, "red"), read_times("1", least=1.0)).steps
    assert step.refused == f"{called(name)}: 2 % in the product, at most 1.9 %"
    assert [state.key for state in step.limits] == [only(name)]


@pytest.mark.parametrize("name", NAMES)
def test_a_certificate_keeps_them_apart(name: str) -> None:
    study = made(name, "2.5")
    certificate = certify(study, state(study), _columns(study, fit(study).unrounded), 1e-3, lambda: False)
    assert verify(certificate).excess == 0
    assert check_origin(certificate, study)
    assert (only(name).kind, only(name).subject) in {(row.kind, row.subject) for row in certificate.problem.limits}


def _columns(study: Study, grams: Mapping[StockKey, float]) -> FloatArray:
    return np.array([grams.get(stock.key, 0.0) for stock in study.stocks])
