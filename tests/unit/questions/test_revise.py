"""A formula in use revised, on studies small enough to know the answer."""

from __future__ import annotations

from typing import Any

import pytest
from tests.studies import study

from reaccord.domain.lines import FormulaLine
from reaccord.domain.study import Study
from reaccord.findings import Findings, NoFormula, Place
from reaccord.questions.in_use import Formula, formula_in_use
from reaccord.questions.revise import Revised, revise

TARGET = "constituent,G1\ngeraniol,50\ncitronellol,30\nlinalool,20"
BOTTLES = (
    "material,constituent,purity,lot\nGer,geraniol,100,A\nCit,citronellol,100,\nLin,linalool,100,\nRoh,citronellol,100,"
)
IN_USE = {"Ger": 6.0, "Cit": 3.0, "Lin": 1.0}


def made(**tables: Any) -> Study:
    return study(target=TARGET, bottles=BOTTLES, **tables)


def lines(amounts: dict[str, float], lot: str = "") -> list[FormulaLine]:
    return [FormulaLine(Place("f.csv", k), name, grams, lot=lot) for k, (name, grams) in enumerate(amounts.items(), 2)]


def used(of: Study, without: tuple[str, ...] = (), **amounts: float) -> Formula:
    findings = Findings()
    found = formula_in_use(of, lines(amounts or IN_USE), without, Place("--without"), findings)
    findings.raise_errors()
    return found


def grams(found: Revised) -> dict[str, float]:
    return {key.material: round(x, 6) for key, x in found.amounts.items()}


def test_a_tenth_moved_goes_from_what_is_too_much_to_what_is_too_little() -> None:
    of = made()
    found = revise(of, used(of), moved=0.1)
    assert found.status == "proven"
    assert grams(found) == pytest.approx({"Ger": 5.0, "Cit": 3.0, "Lin": 2.0}, abs=1e-4)
    assert found.value == pytest.approx(0.0, abs=1e-9)
    half = revise(of, used(of), moved=0.05)
    assert half.moved == pytest.approx(0.05, abs=1e-6)
    assert half.amounts != found.amounts
    # half a gram of ten from geraniol to linalool: 0.05^2 / 0.5 + 0.05^2 / 0.2
    assert half.value == pytest.approx(0.05**2 / 0.5 + 0.05**2 / 0.2, rel=1e-3)
    assert {move.key.material for move in half.moves} == {"Ger", "Lin"}


def test_nothing_has_to_change_where_nothing_may() -> None:
    of = made()
    found = revise(of, used(of), changes=0)
    assert (grams(found), found.moves, found.moved) == (IN_USE, (), 0.0)


def test_what_a_move_buys_is_what_its_line_costs_left_as_it_was() -> None:
    of = made()
    found = revise(of, used(of, Ger=6.0, Cit=2.0, Lin=2.0), changes=2)
    assert grams(found) == pytest.approx({"Ger": 5.0, "Cit": 3.0, "Lin": 2.0}, abs=1e-4)
    assert [move.gain for move in found.moves] == pytest.approx([0.01 / 0.5 + 0.01 / 0.3] * 2, rel=1e-3)


def test_a_bottle_that_is_gone_is_replaced_and_counts_as_a_change() -> None:
    of = made()
    found = revise(of, used(of, ("Cit",), Ger=5.0, Cit=3.0, Lin=2.0), changes=2)
    assert grams(found) == {"Ger": 5.0, "Roh": 3.0, "Lin": 2.0}
    gone, new = found.moves
    assert (gone.key.material, gone.needed, gone.gain) == ("Cit", True, None)
    assert (new.key.material, new.to_g, new.needed) == ("Roh", 3.0, True), "without it the batch is not made"
    assert found.moved == pytest.approx(0.3)
    with pytest.raises(NoFormula, match=r"at most 29 % of its mass moved\. It takes at least 30 % moved"):
        revise(of, used(of, ("Cit",), Ger=5.0, Cit=3.0, Lin=2.0), moved=0.29)
    with pytest.raises(NoFormula) as caught:
        revise(of, used(of, ("Cit",), Ger=5.0, Cit=3.0, Lin=2.0), changes=1)
    assert str(caught.value) == (
        "No formula holds every limit with at most 1 line changed. It takes at least 2 lines changed. Only the batch "
        "forbids it: for 7 g instead of 10 g there is one."
    )
    with pytest.raises(NoFormula, match=r"changed and 29 % of its mass moved\. It takes at least 30 % moved\. Only"):
        revise(of, used(of, ("Cit",), Ger=5.0, Cit=3.0, Lin=2.0), changes=2, moved=0.29)


def test_what_is_in_use_is_judged_as_it_was_whatever_is_gone() -> None:
    oil = "material,part,share\nRosy,geraniol,50\nRosy,limonene,50"
    of = study(target=TARGET, bottles=BOTTLES + "\nRosy,,,", compositions=oil)
    in_use = {"Ger": 5.0, "Cit": 3.0, "Lin": 2.0, "Rosy": 0.5}
    kept, gone = revise(of, used(of, **in_use), changes=9), revise(of, used(of, ("Rosy",), **in_use), changes=9)
    assert kept.before is not None
    assert gone.before is not None
    assert gone.before.closeness == kept.before.closeness
    assert gone.before.totals == kept.before.totals


def test_a_change_that_only_the_batch_needs_says_for_which_batch_it_is_not() -> None:
    of = made()
    found = revise(of, used(of, ("Cit",), Ger=5.0, Cit=3.0, Lin=2.0), changes=2)
    assert [(move.key.material, move.batch_g) for move in found.moves] == [("Cit", None), ("Roh", pytest.approx(7.0))]


def test_a_material_of_no_bottle_at_all_may_be_done_without() -> None:
    of = made()
    formula = used(of, ("Old base",), **{"Ger": 5.0, "Cit": 3.0, "Old base": 2.0})
    assert [line.material for line in formula.lost] == ["Old base"]
    found = revise(of, formula, changes=3)
    assert found.before is None
    assert grams(found)["Lin"] == pytest.approx(2.0, abs=1e-4)
    with pytest.raises(Exception, match="no bottle is called"):
        used(of, ("Old bse",), **{"Ger": 5.0, "Cit": 3.0})


def test_a_lot_that_changed_is_taken_for_the_one_that_is_there() -> None:
    of, findings = made(), Findings()
    found = formula_in_use(of, lines({"Ger": 5.0}, lot="Z"), (), Place("--without"), findings)
    assert [key.lot for key in found.amounts] == ["A"]
    (said,) = findings.warnings
    assert str(said) == ("f.csv, row 2, column lot: lot Z of Ger is not there any more; lot A is taken in its place.")


def test_the_batch_is_what_the_formula_in_use_makes() -> None:
    of = made()
    found = revise(of, used(of, Ger=12.0, Cit=6.0, Lin=2.0), moved=0.1)
    assert sum(found.amounts.values()) == pytest.approx(20.0)
    assert found.value == pytest.approx(0.0, abs=1e-9)


def test_a_line_below_what_can_be_weighed_now_is_lifted_or_left_out() -> None:
    of = made(settings={"balance": {"readability_g": 0.001, "minimum_g": 1.5}})
    found = revise(of, used(of, Ger=5.5, Cit=3.5, Lin=1.0), changes=2, moved=0.2)
    assert grams(found)["Lin"] >= 1.5
    assert len(found.moves) == 2
    assert next(move for move in found.moves if move.key.material == "Lin").needed


def test_a_limit_that_moved_is_kept() -> None:
    of = made(settings={"limits": {"amount": [{"material": "Ger", "at_most_g": 4.0}]}})
    found = revise(of, used(of, Ger=5.0, Cit=3.0, Lin=2.0), changes=2)
    assert grams(found)["Ger"] == pytest.approx(4.0)
    assert not found.judged.broken
