"""Declared columns: headings, blanks, ranges, choices."""

from __future__ import annotations

from typing import Any

import pytest
from tests.studies import told

from reaccord.domain.lines import Reported
from reaccord.findings import Findings
from reaccord.tables import columns
from reaccord.tables.rows import typed_rows
from reaccord.tables.separated import parse_text


def typed(table: str, text: str) -> tuple[list[dict[str, Any]], list[tuple[str, str]]]:
    findings = Findings()
    raw = parse_text(text, "t.csv", ",", findings)
    assert raw is not None
    rows = typed_rows(raw, columns.TABLES[table], findings)
    return [{k: v for k, v in values.items() if v is not None} for _, values in rows], told(findings)


def test_cells_are_typed_and_blanks_are_none() -> None:
    rows, findings = typed("bottles", "material,purity,stock_g,solid,opened\nRose,97,12.5,yes,2026-01-02\nMint,,,,\n")
    assert findings == []
    assert rows[0]["purity"] == Reported(0.97)
    assert rows[0]["solid"] is True
    assert rows[1] == {"material": "Mint"}


def test_an_unknown_column_names_the_nearest() -> None:
    _, findings = typed("bottles", "material,strenght,colour of the cap\nRose,10,red\n")
    assert findings == [
        ("unknown-column", 't.csv, row 1, column strenght: no such column is known. Did you mean "strength"?'),
        ("left-out", "t.csv, row 1, column colour of the cap: left out: no such column is known."),
    ]


def test_an_unknown_column_that_a_known_one_begins_with() -> None:
    _, findings = typed("bottles", "material,Price,stock\nRose,10,5\n")
    assert [text.split("known.")[1] for _, text in findings] == [
        ' Did you mean "price_per_kg"?',
        ' Did you mean "stock_g"?',
    ]


def test_a_missing_column_gives_no_rows() -> None:
    rows, findings = typed("compositions", "material,part\nRose,geraniol\n")
    assert findings == [("missing-column", 't.csv, row 1, column share: the column "share" is missing.')]
    assert rows == []


def test_a_blank_where_something_is_needed() -> None:
    _, findings = typed("compositions", "material,part,share\nRose,geraniol,\n,nerol,3\n")
    assert findings == [
        ("blank", "t.csv, row 2, column share: blank; percent by mass, or `tr`, `nd` is needed here."),
        ("blank", "t.csv, row 3, column material: blank; the material is needed here."),
    ]


def test_a_bad_cell_leaves_the_rest_of_its_row_checked() -> None:
    rows, findings = typed("bottles", 'material,price_per_kg,stock_g\nRose,"1,250",NaN\n')
    assert findings == [
        (
            "bad-cell",
            't.csv, row 2, column price_per_kg: "1,250" may be 1.250 or 1250: write which of them, without a comma.',
        ),
        ("bad-cell", 't.csv, row 2, column stock_g: "NaN" is not a number.'),
    ]
    assert rows == [{"material": "Rose"}]


@pytest.mark.parametrize(
    ("column", "cell", "sentence"),
    [
        ("strength", "0", '"0" must be above 0 %.'),
        ("strength", "-1 %", '"-1 %" must be above 0 %.'),
        ("strength", "101", '"101" is over 100 %.'),
        ("purity", "0", '"0" must be above 0 %.'),
        ("price_per_kg", "-3", '"-3" is below 0.'),
        ("stock_g", "-0.1", '"-0.1" is below 0.'),
        ("stock_g", "1e12", '"1e12" is over 1e+09.'),
        ("keeps_months", "0", '"0" must be above 0.'),
        ("step_g", "0", '"0" must be above 0.'),
        ("minimum_g", "-1", '"-1" is below 0.'),
    ],
)
def test_ranges(column: str, cell: str, sentence: str) -> None:
    _, findings = typed("bottles", f"material,{column}\nRose,{cell}\n")
    assert findings == [("out-of-range", f"t.csv, row 2, column {column}: {sentence}")]


def test_reported_shares_have_a_range_too() -> None:
    rows, findings = typed("compositions", "material,part,share\nRose,a,-1\nRose,b,103\nRose,c,tr\nRose,d,102\n")
    assert findings == [
        ("out-of-range", 't.csv, row 2, column share: "-1" is below 0 %.'),
        ("out-of-range", 't.csv, row 3, column share: "103" is over 102 %.'),
    ]
    assert rows[2]["share"] == Reported(0.00025, "tr")


def test_choices_are_named_with_the_nearest() -> None:
    rows, findings = typed(
        "compositions", "material,part,share,basis\nRose,a,1,FID-area\nRose,b,1,fid area\nRose,c,1,x\n"
    )
    assert rows[0]["basis"] == "fid-area"
    assert findings == [
        ("bad-cell", 't.csv, row 3, column basis: "fid area" is none of mass, fid-area. Did you mean "fid-area"?'),
        ("bad-cell", 't.csv, row 4, column basis: "x" is none of mass, fid-area.'),
    ]


@pytest.mark.parametrize("name", sorted(columns.TABLES))
def test_every_column_says_what_it_means_once(name: str) -> None:
    names = [column.name for column in columns.TABLES[name]]
    assert len(set(names)) == len(names)
    assert all(column.meaning for column in columns.TABLES[name])
