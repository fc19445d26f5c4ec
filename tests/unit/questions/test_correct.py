"""What to add to a batch: by hand on red and green, against the reference door, and against the judge."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from tests.random_studies import draw
from tests.scip_apart import scip
from tests.seeds import seeds
from tests.tiny_study import CARRIER, GREEN, RED, tiny

from reaccord.answer.fit import fit
from reaccord.answer.judge import judge
from reaccord.contract import Answer, Budget, Programme
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import NoAnswer, NoFormula, UsageError
from reaccord.questions.correct import search
from reaccord.questions.correct.correction import Correction, Growth, broken, correct
from reaccord.questions.correct.search import closest_additions
from reaccord.questions.correct.statement import Range, Statement
from reaccord.report.correct import correct_text
from reaccord.solvers import choose

RED_KEY, GREEN_KEY = (StockKey(name, 1.0, "", "") for name in ("Red", "Green"))
PLANNED = {RED_KEY: 6.0, GREEN_KEY: 4.0}
BALANCE = {"readability_g": 0.001, "minimum_g": 0.02}
EXTRA = {"material": "Blue", "constituent": "blue", "purity": "100", "price_per_kg": "30"}
BLUE_KEY = StockKey("Blue", 1.0, "", "")
Grams = dict[StockKey, float]


def corrected(poured: dict[StockKey, float], growth: Growth | None = None, **sections: Any) -> Correction:
    study = tiny([RED, GREEN, EXTRA], **{"balance": BALANCE, **sections})
    return correct(study, PLANNED, poured, growth or Growth(), Budget(1e-6))


def test_an_over_poured_line_is_mended_by_more_of_the_other() -> None:
    """8.4 g of red instead of 6: 5.6 g of green make 60 to 40 again, in 14 g."""
    found = corrected({RED_KEY: 8.4})
    assert found.added == {GREEN_KEY: 5.6}
    assert found.after.closeness.value == pytest.approx(0, abs=1e-12)
    assert found.before.closeness.value == pytest.approx((8.4 / 12.4 - 0.6) ** 2 * (1 / 0.6 + 1 / 0.4))
    assert (found.advice, found.whole_g) == ("correct", pytest.approx(14))


def test_as_far_as_the_batch_may_grow() -> None:
    """Up to 12 g: 8.4 and 3.6, shares 70 and 30 %."""
    found = corrected({RED_KEY: 8.4}, Growth(accord_g=12))
    assert found.added == {GREEN_KEY: pytest.approx(3.6, abs=0.02)}
    assert found.value == pytest.approx(0.1**2 * (1 / 0.6 + 1 / 0.4))
    assert found.bound == pytest.approx(found.value, rel=1e-5)
    assert found.advice == "start over"
    assert found.after.totals.accord_g == pytest.approx(12, abs=0.02)


def test_on_a_coarse_balance_the_batch_grows_no_further_than_it_may() -> None:
    """Up to 12 g there is room for 3.57 g of green: 3.5 g on this balance, not 3.6."""
    coarse = {"readability_g": 0.1, "minimum_g": 0.1}
    found = corrected({RED_KEY: 8.43}, Growth(accord_g=12), balance=coarse)
    assert found.added == {GREEN_KEY: 3.5}
    assert found.bound <= found.after.closeness.value


def test_left_as_planned_it_is_nearer_but_larger_than_it_may_grow() -> None:
    found = corrected({RED_KEY: 6.6}, Growth(accord_g=10))
    assert found.before.closeness.value < found.after.closeness.value
    assert (found.before.totals.accord_g, found.advice) == (pytest.approx(10.6), "leave")


def test_going_on_lists_what_is_still_to_pour() -> None:
    text = correct_text(corrected({RED_KEY: 6.0}), 100)
    assert text.startswith("drawn: go on as planned (")
    assert "Still to pour" in text
    assert "Green          4.000" in text


def test_an_under_poured_line_gets_the_rest_and_the_batch_grows_no_more_than_it_must() -> None:
    found = corrected({RED_KEY: 5.0, GREEN_KEY: 4.0})
    assert found.added == {RED_KEY: pytest.approx(1.0, abs=0.03)}
    assert found.after.totals.accord_g <= 10


def test_what_is_right_so_far_is_left() -> None:
    assert corrected({RED_KEY: 6.0}).advice == "leave"
    found = corrected(PLANNED)
    assert (found.advice, found.added) == ("leave", {})


def test_too_little_to_weigh_is_not_added() -> None:
    """0.01 g of green is missing, less than the balance may be trusted with."""
    found = corrected({RED_KEY: 6.0, GREEN_KEY: 3.99})
    assert all(grams >= 0.02 - 1e-12 for grams in found.added.values())
    assert found.after.closeness.value <= found.before.closeness.value + 1e-12


ALL_GREEN = {RED_KEY: 6.0, GREEN_KEY: 4.133}


def least_red() -> Study:
    """Of red 0.5 g at least can be added, though 0.2 would do; of green nothing is left."""
    return tiny([RED | {"minimum_g": "0.5"}, GREEN | {"stock_g": "4.133"}], balance=BALANCE)


def test_minima_are_of_the_batch_that_comes_out() -> None:
    """Where the batch may grow tenfold a minimum is not a tenth of itself."""
    found = correct(least_red(), PLANNED, ALL_GREEN, Growth(share=9.0), Budget(1e-6))
    assert found.added in ({}, {RED_KEY: 0.5})
    nearer = min((judge(least_red(), ALL_GREEN | {RED_KEY: red}).closeness.value, red) for red in (6.0, 6.5))
    assert found.after.closeness.value == pytest.approx(nearer[0])


def test_what_is_not_in_the_formula_is_thinned_out() -> None:
    found = corrected({RED_KEY: 6.0, BLUE_KEY: 1.0})
    assert math.isinf(found.whole_g)
    assert found.after.totals.accord_g == pytest.approx(15, abs=0.01)
    assert found.after.closeness.value < found.before.closeness.value


def test_poured_lines_count_among_the_lines() -> None:
    """Red and blue are two lines: with two allowed no green may come; with three it does."""
    for lines, added in ((2, set()), (3, {GREEN_KEY})):
        found = corrected({RED_KEY: 6.0, BLUE_KEY: 1.0}, limits={"lines": lines})
        assert set(found.added) - {RED_KEY} == added


def test_limits_that_what_is_poured_has_broken_for_good() -> None:
    amount = {"amount": [{"material": "Red", "at_most_g": 6.5}]}
    with pytest.raises(NoFormula, match=r"(?s)up to 15 g .*Red at most 6\.5 g.*However far it grows: start over"):
        corrected({RED_KEY: 8.4}, limits=amount)


def test_one_strength_binds_what_is_added_alone() -> None:
    """10 % of green is in it already; what is missing may be neat."""
    made = {"strengths": ["10 %"], "carrier": "dipropylene glycol"}
    study = tiny([RED, GREEN, CARRIER], balance=BALANCE, dilutions=made)
    weak = next(s.key for s in study.stocks if s.recipe and s.key.material == "Green")
    found = correct(study, PLANNED, {RED_KEY: 6.0, weak: 0.1}, Growth(), Budget(1e-6))
    assert found.added[GREEN_KEY] == pytest.approx(3.99, abs=0.01)
    assert not broken(found.after)


def test_a_batch_larger_already_than_it_may_be() -> None:
    with pytest.raises(UsageError, match=r"--grow 11 g: the batch makes 12 g of accord already"):
        corrected({RED_KEY: 12.0}, Growth(accord_g=11))


def poured_of(study: Study, seed: int) -> tuple[Grams, Grams, float] | None:
    """Return the formula of a drawn study, and some of its lines poured wrong; None if it has none."""
    rng = np.random.default_rng(seed)
    try:
        formula = dict(fit(study, Budget(1e-2, 5)).amounts)
    except (NoFormula, NoAnswer):
        return None
    part = rng.uniform(0.3, 1.0)
    poured = {key: round(grams * rng.uniform(0.6, 1.5), 3) for key, grams in formula.items() if rng.random() < part}
    others = [stock.key for stock in study.stocks if stock.key not in formula and stock.recipe is None]
    if others and rng.random() < 0.3:
        poured[others[int(rng.integers(len(others)))]] = round(rng.uniform(0.01, 0.3), 3)
    known = {stock.key: stock for stock in study.stocks}
    poured = {key: min(grams, known[key].maximum_g) for key, grams in poured.items() if grams > 0}
    return (formula, poured, float(rng.choice([0.0, 0.2, 0.5, 2.0]))) if poured else None


def stated(
    study: Study, formula: dict[StockKey, float], poured: dict[StockKey, float]
) -> tuple[Statement, float, Range]:
    statement, batch_g = Statement(study, study.stocks, poured), judge(study, formula).totals.accord_g
    return statement, batch_g, Range(max(statement.basis_g, batch_g), max(statement.basis_g, batch_g))


@seeds(3, 5, 12, 300)
def test_additions_are_the_closest_the_reference_finds(seed: int) -> None:
    study = draw(seed).study()
    drawn = poured_of(study, seed)
    if drawn is None:
        return
    formula, poured, share = drawn
    statement, batch_g, within = stated(study, formula, poured)
    within = replace(within, most_g=within.most_g * (1 + share))
    found, answer = closest_additions(statement, batch_g, within, 0.0, Budget(1e-5, 30))
    every = statement.growing(batch_g, within, range(len(statement.stocks)))
    other = scip(every, Budget(1e-5, 30))
    if other is None or (other.amounts is None and other.status != "infeasible"):
        return
    if other.amounts is None:
        assert answer.status == "infeasible"
        return
    assert found is not None
    assert answer.bound <= other.value * (1 + 1e-5) + 1e-9
    assert found.value <= max(other.value * (1 + 1.1e-3), 1e-8)
    if other.status == "proven":
        assert answer.value >= other.bound * (1 - 1e-5) - 1e-9


@seeds(0, 12, 30, 600)
def test_what_the_statement_allows_is_what_the_judge_allows(seed: int) -> None:
    """Random additions in a random batch: same deviation, and limits broken in the one and the other."""
    study, rng = draw(seed).study(), np.random.default_rng(seed)
    open_stocks = [stock for stock in study.stocks if stock.maximum_g >= max(stock.minimum_g, 0.01)]
    chosen = {stock.key: stock for stock in rng.choice(np.array(open_stocks, dtype=object), 6)}
    poured, added = dict[StockKey, float](), dict[StockKey, float]()
    for key, stock in chosen.items():
        first = float(rng.uniform(0, min(stock.maximum_g, 4.0)))
        poured[key] = first
        more = min(stock.maximum_g - first, 4.0, stock.recipe.needed_g if stock.recipe else math.inf)
        if rng.random() < 0.6 and more >= max(stock.minimum_g, 1e-3):
            added[key] = float(rng.uniform(max(stock.minimum_g, 1e-3), more))
    total = {key: poured[key] + added.get(key, 0.0) for key in poured}
    try:
        judged = judge(study, total)
    except ValueError:
        return
    statement = Statement(study, study.stocks, poured)
    accord_g = judged.totals.accord_g
    within = Range(accord_g / 1.3, accord_g * 1.4)
    growing = statement.growing(10.0, within, range(len(statement.stocks)))
    grams = np.zeros(len(growing.columns))
    grams[: len(statement.stocks)] = [added.get(stock.key, 0.0) for stock in statement.stocks]
    grams[-1] = statement.poured_g
    for made, key in made_columns(study, statement):
        grams[made] = max(total.get(key, 0.0), least_of(study, key)) if total.get(key) else 0.0
    scaled = grams * 10.0 / accord_g
    assert growing.value(scaled) == pytest.approx(judged.closeness.value, rel=1e-9, abs=1e-12)
    several = replace(growing, strengths=())
    assert (several.excess(scaled) <= 1e-8) == (not broken(judged))


def made_columns(study: Study, statement: Statement) -> list[tuple[int, StockKey]]:
    """Return the helper columns of the statement and the stock of each."""
    from reaccord.programme import state

    whole = state(study)
    return [(len(statement.stocks) + number, study.stocks[made.stock].key) for number, made in enumerate(whole.made)]


def least_of(study: Study, key: StockKey) -> float:
    stock = study.stock(key)
    assert stock is not None
    assert stock.recipe is not None
    return stock.recipe.least_g


def test_an_excluded_bottle_in_the_vial_is_counted_and_no_more_of_it_added() -> None:
    found = corrected({RED_KEY: 6.0, BLUE_KEY: 1.0}, limits={"exclude": ["Blue"]})
    assert BLUE_KEY not in found.added
    assert found.after.totals.foreign_g == pytest.approx(1.0)


@seeds(0, 4, 15, 400)
def test_a_correction_keeps_its_promises(seed: int) -> None:
    """What is added can be weighed, every limit holds, nothing is below the bound, and leaving it is not better."""
    study = draw(seed).study()
    drawn = poured_of(study, seed)
    if drawn is None:
        return
    formula, poured, share = drawn
    try:
        found = correct(study, formula, poured, Growth(share=share), Budget(1e-3, 30))
    except (NoFormula, NoAnswer):
        return
    known = {stock.key: stock for stock in study.stocks}
    for key, grams in found.added.items():
        step = known[key].step_g
        assert grams >= known[key].minimum_g * (1 - 1e-9)
        assert step == 0 or grams / step == pytest.approx(round(grams / step), abs=1e-6)
    assert not broken(found.after)
    assert found.bound <= found.value * (1 + 1e-9)
    assert found.after.totals.accord_g <= found.allowed_g * (1 + 1e-9)
    assert found.bound <= found.after.closeness.value * (1 + 1e-6) + 1e-9
    weighable = not broken(found.before) and all(known[key].minimum_g <= 1e-9 for key in formula)
    if weighable and found.before.totals.accord_g <= found.allowed_g:
        assert found.bound <= found.before.closeness.value * (1 + 1e-6) + 1e-9


def test_when_time_is_over_before_every_minimum_holds_the_batch_come_to_is_held_to(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    over = False

    def solve_once(programme: Programme, budget: Budget) -> Answer:
        nonlocal over
        answer = choose.solve(programme, budget)
        over = True
        return answer

    monkeypatch.setattr(search, "solve", solve_once)
    budget = Budget(1e-6, stop=lambda: over)
    found = correct(least_red(), PLANNED, ALL_GREEN, Growth(share=9.0), budget)
    assert found.answer.status == "feasible"
    assert found.added.get(RED_KEY, 0.5) >= 0.5
    assert found.value >= found.bound
