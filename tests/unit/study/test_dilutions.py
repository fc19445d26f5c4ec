"""A part of a recipe, or a line of a formula, whose material stands there as a dilution only."""

from __future__ import annotations

import pytest
from tests.studies import errors_of, stock, study, told

from reaccord.answer.formula import match_formula
from reaccord.domain.lines import FormulaLine
from reaccord.findings import Findings, Place

BOTTLES = "material,constituent,purity,strength,carrier\nGeraniol,geraniol,100,,\nNerol,nerol,100,10,DPG\nBase,,,,\n"
HEAD = "material,part,share,part_kind,strength,carrier\n"
ASKED = (
    "column strength: blank: neat Nerol or a dilution? No bottle is neat, the only bottle of it is 10 % in DPG. Write "
    "strength 10 and carrier DPG if that was weighed, strength 100 if neat Nerol was."
)


def test_a_part_without_a_strength_is_asked_about() -> None:
    parts = HEAD + "Base,Geraniol,50,material,,\nBase,Nerol,50,material,,"
    assert told(errors_of(bottles=BOTTLES, compositions=parts)) == [
        ("which-strength", f"compositions.csv, row 3, {ASKED}")
    ]


@pytest.mark.parametrize(("said", "nerol"), [("100,", 0.5), ("10,DPG", 0.05)])
def test_a_part_with_a_strength_is_taken_as_it_says(said: str, nerol: float) -> None:
    made = study(bottles=BOTTLES, compositions=HEAD + f"Base,Geraniol,50,material,,\nBase,Nerol,50,material,{said}")
    assert stock(made, "Base").content.typical["nerol"] == pytest.approx(nerol)


def test_where_a_neat_bottle_stands_there_too_a_part_is_neat() -> None:
    parts = HEAD + "Base,Geraniol,50,material,,\nBase,Nerol,50,material,,"
    made = study(bottles=BOTTLES + "Nerol,nerol,100,,\n", compositions=parts)
    assert stock(made, "Base").content.typical["nerol"] == pytest.approx(0.5)


def test_two_dilutions_are_both_named() -> None:
    (error,) = errors_of(bottles=BOTTLES + "Nerol,nerol,100,1,ethanol\n", compositions=HEAD + "Base,Nerol,9,material,,")
    assert "No bottle is neat, its bottles are 10 % in DPG, 1 % in ethanol." in error.message


@pytest.mark.parametrize("strength", [None, 1.0])
def test_a_line_of_a_formula_is_asked_about_unless_it_says_neat(strength: float | None) -> None:
    made, findings = study(bottles=BOTTLES.replace("Base,,,,\n", "")), Findings()
    match_formula(made, [FormulaLine(Place("f.csv", 2), "nerol", 1.0, strength)], findings)
    neat = ("unknown-strength", "f.csv, row 2, column strength: there is no nerol of 100 %. There is: 10 %.")
    asked = (
        ASKED.replace("Nerol", "nerol").replace("DPG", "dipropylene glycol").replace("strength 100", "add its bottle")
    )
    assert told(findings) == [neat if strength else ("which-strength", f"f.csv, row 2, {asked}")]
