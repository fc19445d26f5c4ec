"""The programme as a cvxpy problem that people ask something of their own of, and the judge of what came out."""

from __future__ import annotations

import pytest
from tests.random_studies import draw
from tests.tiny_study import CARRIER, GREEN, RED, tiny

import reaccord
from reaccord.contract import Budget
from reaccord.findings import NoFormula

pytest.importorskip("pyscipopt", reason="SCIP comes with the extra `test`")
BALANCE = {"readability_g": 0.01, "minimum_g": 0.5}
SCIP = {"solver": "SCIP", "scip_params": {"limits/gap": 1e-6}}


def test_everything_bears_the_name_that_people_read() -> None:
    dilutions = {"strengths": ["10 %"], "carrier": "dipropylene glycol"}
    limits = {"cost_per_kg": 20, "amount": [{"material": "Green", "at_least_g": 1}]}
    study = tiny([CARRIER, RED, GREEN], balance=BALANCE, dilutions=dilutions, limits=limits)
    asked = reaccord.as_cvxpy(study)
    assert list(asked.grams) == [stock.label for stock in study.stocks] == list(asked.used)
    assert list(asked.achieved) == ["green", "red", "undeclared"]
    assert {"batch", "cost", "Green at least", "on hand", "smallest weighable"} <= asked.constraints.keys()
    assert {rule.label for rule in asked.problem.constraints} == asked.constraints.keys()
    assert {"amounts", "used"} <= asked.problem.var_dict.keys()


@pytest.mark.filterwarnings("ignore:Solution may be inaccurate")
@pytest.mark.parametrize("seed", [1, 4, 6, 9, 11, 17])
def test_it_is_the_same_programme(seed: int) -> None:
    study = draw(seed, measure="squares", balance=True).study()
    try:
        found = reaccord.fit(study, Budget(gap=1e-6))
    except NoFormula:
        pytest.skip("drawn without a formula")
    asked = reaccord.as_cvxpy(study)
    asked.problem.solve(**SCIP)
    judged = reaccord.judge_amounts(study, asked.amounts())
    assert judged.closeness.value == pytest.approx(found.judged_before.closeness.value, rel=1e-3, abs=1e-6)
    assert not judged.broken


@pytest.mark.filterwarnings("ignore:Solution may be inaccurate")
def test_a_constraint_of_ones_own_holds_and_one_left_out_does_not() -> None:
    study = tiny(balance=BALANCE, limits={"amount": [{"material": "Red", "at_most_g": 5}]})
    asked = reaccord.as_cvxpy(study)
    asked.having(asked.grams["Green"] >= 7 * asked.used["Green"]).solve(**SCIP)
    assert asked.amounts()["Green"] == pytest.approx(7, abs=1e-5)
    asked.without("Red at most").solve(**SCIP)
    judged = reaccord.judge_amounts(study, asked.amounts())
    assert judged.closeness.value == pytest.approx(0, abs=1e-8)
    assert [state.label for state in judged.broken] == ["Red at most"]
    with pytest.raises(KeyError):
        asked.without("no such limit")


def test_a_limit_is_held_to_a_solvers_tolerance_and_no_further() -> None:
    study = tiny(limits={"amount": [{"material": "Red", "at_most_g": 5}]})
    assert not reaccord.judge_amounts(study, {"Red": 5 + 1e-7, "Green": 5.0}).broken
    assert reaccord.judge_amounts(study, {"Red": 5.001, "Green": 5.0}).broken
    with pytest.raises(ValueError, match=r'no stock is called "Gren"\. Did you mean "Green"'):
        reaccord.judge_amounts(study, {"Gren": 5.0})


def test_what_no_solver_gives_is_refused() -> None:
    study = tiny()
    assert reaccord.judge_amounts(study, {"Red": -1e-9, "Green": 5.0}).totals.accord_g == 5
    for grams in (-1.0, float("nan"), float("inf")):
        with pytest.raises(ValueError, match=r"Red: .* is no gram that can be poured"):
            reaccord.judge_amounts(study, {"Red": grams, "Green": 5.0})


def test_a_limit_is_passed_by_a_part_of_what_it_allows_however_little_that_is() -> None:
    """Blue comes with red, 1 %: about as much as a constraint is violated by, its limit is passed by."""
    blue = ({"material": "Red", "part": "blue", "share": "1"},)
    rule = {"rule": "Blue", "members": "blue", "max": "0.00012", "kind": "each"}
    limits = {"cost_per_kg": 25.9, "dosage": "0.02 %", "amount": [{"material": "Red", "at_least_g": 6.01}]}
    study = tiny([RED | {"purity": "99"}, GREEN], compositions=blue, rules=[rule], limits=limits)
    asked = reaccord.as_cvxpy(study)
    asked.grams["Red"].variables()[0].value = [4.0, 6.0]
    broken = reaccord.judge_amounts(study, {"Red": 6.0, "Green": 4.0}).broken
    assert {state.label for state in broken} == {"Blue", "cost", "Red at least"}
    for state in broken:
        passed = abs(state.value - state.limit) / state.limit
        assert passed / 2 < float(asked.constraints[state.label].violation()) < 2 * passed, state.label


def test_nothing_solved_yet_is_said() -> None:
    with pytest.raises(ValueError, match="nothing was solved"):
        reaccord.as_cvxpy(tiny()).amounts()
