"""Typed cells into the lines of the domain, and what a row must have together."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from tests.studies import told

from reaccord.domain.lines import Reported
from reaccord.findings import Findings
from reaccord.tables import lines
from reaccord.tables.raw import parse_text


def read(reader: Callable[..., Any], text: str, *more: Any) -> tuple[Any, list[tuple[str, str]]]:
    findings = Findings()
    raw = parse_text(text, "t.csv", ",", findings)
    assert raw is not None
    return reader(raw, findings, *more), told(findings)


def test_target_lines() -> None:
    (rows, samples), findings = read(
        lines.target_lines, "constituent,cas,G1,G2,low,high,weight\ngeraniol,106-24-1,40,tr,,,2\nlinalool,,,,1,5,\n"
    )
    assert findings == []
    assert samples == ("G1", "G2")
    assert dict(rows[0].shares) == {"G1": Reported(0.4), "G2": Reported(0.00025, "tr")}
    assert (rows[0].cas, rows[0].weight, rows[0].low) == ("106-24-1", 2.0, None)
    assert dict(rows[1].shares) == {"G1": None, "G2": None}
    assert (rows[1].low, rows[1].high, rows[1].weight) == (Reported(0.01), Reported(0.05), 1.0)


def test_only_the_samples_asked_for_are_read() -> None:
    (rows, samples), findings = read(
        lines.target_lines, "constituent,retention index,remark,G1\ngeraniol,1276,a big peak,40\n", ("G1",)
    )
    assert findings == []
    assert samples == ("remark", "G1")  # a retention index is no sample of anything
    assert dict(rows[0].shares) == {"G1": Reported(0.4)}


def test_a_heading_close_to_a_known_one_is_read_as_a_sample_and_said() -> None:
    (_, samples), findings = read(lines.target_lines, "constituent,wieght\ngeraniol,40\n")
    assert samples == ("wieght",)
    assert findings == [
        (
            "sample-or-column",
            't.csv, row 1, column wieght: read as a sample. If it was meant as "weight", write it so.',
        )
    ]


def test_a_known_heading_in_other_letters_is_no_sample() -> None:
    (_, samples), findings = read(lines.target_lines, "constituent,CAS,G1\ngeraniol,106-24-1,40\n")
    assert samples == ("G1",)
    assert findings == [("unknown-column", 't.csv, row 1, column CAS: no such column is known. Did you mean "cas"?')]


def test_a_target_without_its_names_is_one_error_and_not_one_per_cell() -> None:
    (rows, _), findings = read(lines.target_lines, "Constituent,G1\ngeraniol,40\ncitronellol,60\n")
    assert rows == ()
    assert findings == [
        (
            "unknown-column",
            't.csv, row 1, column Constituent: no such column is known. Did you mean "constituent"?',
        ),
        ("missing-column", 't.csv, row 1, column constituent: the column "constituent" is missing.'),
    ]


def test_a_target_band_the_wrong_way_round() -> None:
    _, findings = read(lines.target_lines, "constituent,low,high\ngeraniol,5,3\n")
    assert findings == [("band", "t.csv, row 2, column low: low is above high.")]


def test_a_target_row_without_a_name() -> None:
    (rows, _), findings = read(lines.target_lines, "constituent,G1\n,40\ngeraniol,60\n")
    assert [line.name for line in rows] == ["geraniol"]
    assert [code for code, _ in findings] == ["blank"]
    assert findings[0][1].startswith("t.csv, row 2, column constituent: blank; a constituent, several joined")


@pytest.mark.parametrize("weight", ["-1", "inf", "2e6"])
def test_weights_out_of_range(weight: str) -> None:
    _, findings = read(lines.target_lines, f"constituent,G1,weight\ngeraniol,40,{weight}\n")
    assert len(findings) == 1
    assert findings[0][1].startswith("t.csv, row 2, column weight:")


def test_bottle_lines() -> None:
    (line,), findings = read(
        lines.bottle_lines,
        "material,constituent,purity,strength,carrier,price_per_kg,stock_g,lot\nG10,geraniol,97,10,DPG,20,5,L1\n",
    )
    assert findings == []
    assert (line.material, line.constituent, line.purity, line.strength) == ("G10", "geraniol", 0.97, 0.1)
    assert (line.carrier, line.price_per_kg, line.stock_g, line.lot) == ("DPG", 20, 5, "L1")


@pytest.mark.parametrize(
    ("heading", "cells", "finding"),
    [
        (
            "constituent,purity",
            "geraniol,",
            ("blank", "t.csv, row 2, column purity: blank; how pure is the geraniol in it?"),
        ),
        (
            "constituent",
            "geraniol",
            ("blank", "t.csv, row 2, column purity: blank; how pure is the geraniol in it?"),
        ),
        (
            "constituent,purity",
            ",97",
            ("blank", "t.csv, row 2, column constituent: a purity without a constituent: purity of what?"),
        ),
        (
            "strength",
            "10",
            ("blank", "t.csv, row 2, column carrier: a dilution without a carrier: what is it diluted in?"),
        ),
        (
            "strength,carrier",
            ",DPG",
            (
                "carrier-but-neat",
                "t.csv, row 2, column strength: a carrier but no strength: taken as neat. "
                "If it is a dilution, write its strength.",
            ),
        ),
        ("constituent,purity", "geraniol,abc", ("bad-cell", 't.csv, row 2, column purity: "abc" is not a number.')),
        (
            "constituent,puritty",
            "geraniol,97",
            ("unknown-column", 't.csv, row 1, column puritty: no such column is known. Did you mean "purity"?'),
        ),
    ],
)
def test_what_a_bottle_must_say_together(heading: str, cells: str, finding: tuple[str, str]) -> None:
    _, findings = read(lines.bottle_lines, f"material,{heading}\nX,{cells}\n")
    assert findings == [finding]


@pytest.mark.parametrize(
    ("cells", "finding"),
    [
        ("5,6,7,,", ("band", "t.csv, row 2, column low: low is above the share.")),
        ("5,3,4,,", ("band", "t.csv, row 2, column high: high is below the share.")),
        ("abc,3,4,,", ("bad-cell", None)),
        (
            "5,,,10,",
            ("blank", "t.csv, row 2, column carrier: a dilution without a carrier: what is it diluted in?"),
        ),
        (
            "5,,,,DPG",
            (
                "carrier-but-neat",
                "t.csv, row 2, column strength: a carrier but no strength: taken as neat. "
                "If it is a dilution, write its strength.",
            ),
        ),
    ],
)
def test_what_a_part_must_say_together(cells: str, finding: tuple[str, str | None]) -> None:
    _, findings = read(lines.composition_lines, f"material,part,share,low,high,strength,carrier\nBase,Rose,{cells}\n")
    assert [code for code, _ in findings] == [finding[0]]
    assert finding[1] in (None, findings[0][1])


def test_a_trace_may_have_a_high_of_its_own() -> None:
    (line,), findings = read(lines.composition_lines, "material,part,share,high\nOil,safrole,tr,0.1\n")
    assert findings == []
    assert (line.share, line.high) == (Reported(0.00025, "tr"), 0.001)


def test_constituent_lines() -> None:
    (line,), findings = read(
        lines.constituent_lines,
        "constituent,synonyms,benzene_rings,carrier,members\ncitral,a; b,0,no,neral;geranial\n",
    )
    assert findings == []
    assert (line.synonyms, line.benzene_rings, line.carrier) == (("a", "b"), 0, False)
    assert line.members == ("neral", "geranial")


def test_limit_lines() -> None:
    (first, second), findings = read(
        lines.limit_lines,
        "rule,members,product,max,kind,cautions\nR1,a;b,soap,0.1,sum,skin; light\nR2,c,any,,prohibited,\n",
    )
    assert findings == []
    assert (first.members, first.most, first.kind, first.cautions) == (("a", "b"), 0.001, "sum", ("skin", "light"))
    assert (second.most, second.kind) == (None, "prohibited")


@pytest.mark.parametrize(
    ("cells", "finding"),
    [
        ("a,soap,,", ("blank", "t.csv, row 2, column max: blank; how much may be in the finished product?")),
        ("a,soap,0,ratio", ("out-of-range", "t.csv, row 2, column max: a ratio cannot divide by 0.")),
        ("a,soap,-1,", ("out-of-range", 't.csv, row 2, column max: "-1" is below 0 %.')),
        (",soap,1,", ("blank", None)),
        ("a,,1,", ("blank", None)),
    ],
)
def test_what_a_limit_must_say(cells: str, finding: tuple[str, str | None]) -> None:
    _, findings = read(lines.limit_lines, f"rule,members,product,max,kind\nR,{cells}\n")
    assert [code for code, _ in findings] == [finding[0]]
    assert finding[1] in (None, findings[0][1])


def test_a_members_cell_of_separators_alone_names_nothing() -> None:
    rows, findings = read(lines.limit_lines, "rule,members,product,max\nR, ; ,any,1\n")
    assert rows == ()
    assert findings == [("blank", "t.csv, row 2, column members: blank; nothing is named here.")]


def test_formula_lines_read_what_we_write() -> None:
    (line,), findings = read(
        lines.formula_lines, "material,strength,carrier,lot,grams,share,cost\nRose,10,DPG,L1,0.5,1.2,3.4\n"
    )
    assert findings == []
    assert (line.material, line.strength, line.carrier, line.lot, line.grams) == ("Rose", 0.1, "DPG", "L1", 0.5)


@pytest.mark.parametrize(
    ("cells", "sentence"),
    [
        ("Rose,,,", "t.csv, row 2, column grams: blank; gram poured is needed here."),
        ("Rose,,,-1", 't.csv, row 2, column grams: "-1" is below 0.'),
        ("Rose,0,DPG,1", 't.csv, row 2, column strength: "0" must be above 0 %.'),
        ("Rose,10,,1", "t.csv, row 2, column carrier: a dilution without a carrier: what is it diluted in?"),
    ],
)
def test_formula_lines_that_are_wrong(cells: str, sentence: str) -> None:
    _, findings = read(lines.formula_lines, f"material,strength,carrier,grams\n{cells}\n")
    assert [text for _, text in findings] == [sentence]
