"""Lines of a formula table matched to the stocks of a study."""

from __future__ import annotations

import pytest
from tests.studies import study, told

from reaccord.answer.formula import match_formula
from reaccord.domain.stock import StockKey
from reaccord.findings import Findings
from reaccord.tables.lines import formula_lines
from reaccord.tables.separated import parse_text

SHELF = study(
    bottles="material,constituent,purity,strength,carrier,lot\n"
    "Geraniol,geraniol,100,,,L1\nGeraniol,geraniol,100,,,L2\nGeraniol,geraniol,100,10,DPG,L1\n"
    "Citronellol,citronellol,100,,,C\nDPG,DPG,100,,,\nNerol,nerol,100,,,",
    settings={
        "dilutions": {"strengths": ["1 %"], "carrier": "DPG"},
        "limits": {"exclude": ["Nerol"]},
    },
)
DPG = "dipropylene glycol"


def matched(rows: str) -> tuple[dict[StockKey, float], list[tuple[str, str]]]:
    findings = Findings()
    raw = parse_text("material,strength,carrier,lot,grams\n" + rows, "formula.csv", ",", findings)
    assert raw is not None
    return match_formula(SHELF, formula_lines(raw, findings), findings), told(findings)


def test_lines_find_their_stocks() -> None:
    amounts, findings = matched(
        "GERANIOL,,,L2,1.5\nGeraniol,10,dipropylene glycol,L1,2\nCitronellol,100,,,3\nCitronellol,1 %,DPG,made,4"
    )
    assert findings == []
    assert amounts == {
        StockKey("Geraniol", 1.0, "", "L2"): 1.5,
        StockKey("Geraniol", 0.1, DPG, "L1"): 2.0,
        StockKey("Citronellol", 1.0, "", "C"): 3.0,
        StockKey("Citronellol", 0.01, DPG, "made"): 4.0,
    }


@pytest.mark.parametrize("carrier", ["DPG", "25265-71-8", "Dipropylene Glycol"])
def test_a_carrier_goes_by_all_its_names(carrier: str) -> None:
    assert matched(f"Geraniol,10,{carrier},,2") == ({StockKey("Geraniol", 0.1, DPG, "L1"): 2.0}, [])


def test_a_formula_may_use_what_the_study_sets_aside() -> None:
    assert matched("Nerol,,,,1")[0] == {StockKey("Nerol", 1.0, "", ""): 1.0}


@pytest.mark.parametrize(
    ("row", "finding"),
    [
        (
            "Geranoil,,,,1",
            (
                "unknown-material",
                'formula.csv, row 2, column material: no bottle is called "Geranoil". Did you mean "Geraniol"?',
            ),
        ),
        ("Musk,,,,1", ("unknown-material", 'formula.csv, row 2, column material: no bottle is called "Musk".')),
        (
            "Geraniol,5,DPG,,1",
            (
                "unknown-strength",
                "formula.csv, row 2, column strength: there is no Geraniol of 5 %. There is: 100 %, 10 %, 1 %.",
            ),
        ),
        (
            "Geraniol,10,ethanol,,1",
            (
                "unknown-carrier",
                'formula.csv, row 2, column carrier: there is no such dilution in "ethanol". '
                "There is: dipropylene glycol.",
            ),
        ),
        (
            "Geraniol,,,L3,1",
            ("unknown-lot", 'formula.csv, row 2, column lot: which lot? "L3" is none of: L1, L2.'),
        ),
        ("Geraniol,,,,1", ("unknown-lot", 'formula.csv, row 2, column lot: which lot? "" is none of: L1, L2.')),
        (
            "Citronellol,,,D,1",
            ("unknown-lot", 'formula.csv, row 2, column lot: which lot? "D" is none of: C.'),
        ),
    ],
)
def test_lines_that_fit_no_stock(row: str, finding: tuple[str, str]) -> None:
    assert matched(row) == ({}, [finding])


def test_the_same_stock_twice() -> None:
    _, findings = matched("Citronellol,,,C,1\nCitronellol,100 %,,,2")
    assert findings == [
        ("duplicate-row", "formula.csv, row 3, column material: Citronellol (C) stands in row 2 already.")
    ]


def test_a_dilution_without_a_carrier_is_one_finding() -> None:
    _, [(code, sentence)] = matched("Geraniol,10,,L1,2")
    assert code == "blank"
    assert "column carrier" in sentence
