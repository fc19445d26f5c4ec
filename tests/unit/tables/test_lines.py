"""Typed cells into the lines of the domain, and what a row must have together."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from tests.studies import told

from reaccord.domain.lines import Reported
from reaccord.findings import Findings
from reaccord.tables import lines
from reaccord.tables.composition_table import composition_lines
from reaccord.tables.separated import parse_text
from reaccord.tables.target_table import target_lines


def read(reader: Callable[..., Any], text: str, *more: Any) -> tuple[Any, list[tuple[str, str]]]:
    findings = Findings()
    raw = parse_text(text, "t.csv", ",", findings)
    assert raw is not None
    return reader(raw, findings, *more), told(findings)


def test_target_lines() -> None:
    (rows, samples), findings = read(
        target_lines, "constituent,cas,G1,G2,low,high,weight\ngeraniol,106-24-1,40,tr,,,2\nlinalool,,,,1,5,\n"
    )
    assert findings == []
    assert samples == ("G1", "G2")
    assert dict(rows[0].shares) == {"G1": Reported(0.4), "G2": Reported(0.00025, "tr")}
    assert (rows[0].cas, rows[0].weight, rows[0].low) == ("106-24-1", 2.0, None)
    assert dict(rows[1].shares) == {"G1": None, "G2": None}
    assert (rows[1].low, rows[1].high, rows[1].weight) == (Reported(0.01), Reported(0.05), 1.0)


def test_only_the_samples_asked_for_are_read() -> None:
    (rows, samples), findings = read(
        target_lines, "constituent,retention index,remark,G1\ngeraniol,1276,a big peak,40\n", ("G1",)
    )
    assert findings == []
    assert samples == ("G1",)  # a retention index and a remark are no samples of anything
    assert dict(rows[0].shares) == {"G1": Reported(0.4)}


def test_a_heading_close_to_a_known_one_is_read_as_a_sample_and_said() -> None:
    (_, samples), findings = read(target_lines, "constituent,wieght\ngeraniol,40\n")
    assert samples == ("wieght",)
    assert findings == [
        (
            "sample-or-column",
            't.csv, row 1, column wieght: read as a sample. If it was meant as "weight", write it so.',
        )
    ]


def test_a_known_heading_in_other_letters_is_no_sample() -> None:
    (rows, samples), findings = read(target_lines, "Constituent,CAS,G1\ngeraniol,106-24-1,40\n")
    assert samples == ("G1",)
    assert (rows[0].name, rows[0].cas) == ("geraniol", "106-24-1")
    assert findings == []


@pytest.mark.parametrize("heading", ["constitunet", "peak", "Verbindung", "Library/ID"])
def test_the_only_column_of_names_is_the_column_of_names(heading: str) -> None:
    (rows, samples), findings = read(target_lines, f"{heading},G1\ngeraniol,40\ncitronellol,60\n")
    assert [row.name for row in rows] == ["geraniol", "citronellol"]
    assert samples == ("G1",)
    said = "taken as the column constituent: it alone holds names."
    assert findings == [("taken-as", f"t.csv, row 1, column {heading}: {said}")]


def test_a_target_without_its_names_is_one_error_and_not_one_per_cell() -> None:
    (rows, samples), findings = read(target_lines, "peak,G1\n1,40\n2,60\n")
    assert (rows, samples) == ((), ("G1",))
    assert [code for code, _ in findings] == ["taken-as", "missing-column"]


def test_no_cas_number_is_a_blank_and_said_once() -> None:
    (rows, _), findings = read(target_lines, "constituent,cas,G1\na,-,1\nb,–,1\nc,n.a.,1\nd,n/a,1\ne,-,1\nf,,1\n")
    assert [row.cas for row in rows] == [""] * 6
    place = "t.csv, row {}, column cas: "
    assert findings == [
        ("taken-as", place.format(2) + '"-" taken as a blank (so too in 1 more row).'),
        ("taken-as", place.format(3) + '"–" taken as a blank.'),
        ("taken-as", place.format(4) + '"n.a." taken as a blank.'),
        ("taken-as", place.format(5) + '"n/a" taken as a blank.'),
    ]
    (own,), _ = read(lines.constituent_lines, "constituent,cas\ngarden ketal,n/a\n")
    assert own.cas == ""
    (own,), _ = read(lines.constituent_lines, "constituent,cas\ngarden ketal,78-70-6\n")
    assert own.cas == "78-70-6"


@pytest.mark.parametrize("name", ["Total", "SUM", "Sum (%)", "Total identified", "total of all compounds", "Subtotal:"])
def test_the_last_line_of_an_analysis_is_no_row(name: str) -> None:
    sentence = f'1 row left out that add up others or are classes of them: "{name}".'
    (rows, _), findings = read(target_lines, f"constituent,G1\ngeraniol,99\n{name},99\n")
    assert [line.name for line in rows] == ["geraniol"]
    assert findings == [("left-out", f"t.csv, row 3, column constituent: {sentence}")]
    rows, findings = read(composition_lines, f"material,part,share\nOil,geraniol,99\nOil,{name},99\n")
    assert [line.part for line in rows] == ["geraniol"]
    assert findings == [("left-out", f"t.csv, row 3, column part: {sentence}")]


@pytest.mark.parametrize("name", ["Total eclipse base", "Summer accord", "sum of ocimenes"])
def test_names_that_begin_like_a_total(name: str) -> None:
    (rows, _), findings = read(target_lines, f"constituent,G1\n{name},99\n")
    assert [line.name for line in rows] == [name]
    assert findings == []


def test_footnote_marks_at_names_are_left_out_in_every_table_and_said_once() -> None:
    mark = '"*" at a name: taken as a footnote mark and left out'
    (rows, _), findings = read(target_lines, "constituent,G1\nLinalool*,40\nnerol *,20\n† camphor^a,1\n")
    assert [line.name for line in rows] == ["Linalool", "nerol", "† camphor"]
    assert findings[0] == ("taken-as", f"t.csv, row 2, column constituent: {mark} (so too in 1 more row).")
    (bottle,), _ = read(lines.bottle_lines, "material,constituent,purity,strength,carrier\nOil†,nerol^a,97,10,DPG*\n")
    assert (bottle.material, bottle.constituent, bottle.carrier) == ("Oil", "nerol", "DPG")
    (part,), _ = read(composition_lines, "material,part,share\nOil*,Linaloolᵃ,40\n")
    assert (part.material, part.part) == ("Oil", "Linalool")
    (own,), _ = read(lines.constituent_lines, "constituent,synonyms,members\nx*,y*; z†,a§;b\n")
    assert (own.constituent, own.synonyms, own.members) == ("x", ("y", "z"), ("a", "b"))
    (rule,), findings = read(lines.limit_lines, "rule,members,product,max,kind\nR,linalool*;nerol,any,1,each\n")
    assert rule.members == ("linalool", "nerol")
    assert findings == [("taken-as", f"t.csv, row 2, column members: {mark}.")]
    (poured,), _ = read(lines.formula_lines, "material,grams\nOil*,1\n")
    assert poured.material == "Oil"


def test_a_character_nobody_sees_is_named_and_the_row_still_read() -> None:
    (line,), findings = read(
        lines.bottle_lines, "material,lot,stock_g,note\nRo\u202ese oil,L\u200b1,1\u00ad2,\u200bfine\n"
    )
    assert (line.material, line.lot, line.stock_g, line.note) == ("Rose oil", "L1", 12, "\u200bfine")
    cure = "Delete it, or type the cell anew."
    assert findings == [
        (
            "invisible",
            f"t.csv, row 2, column material: holds a character nobody sees, U+202E (right-to-left override). {cure}",
        ),
        ("invisible", f"t.csv, row 2, column lot: holds a character nobody sees, U+200B (zero width space). {cure}"),
        ("invisible", f"t.csv, row 2, column stock_g: holds a character nobody sees, U+00AD (soft hyphen). {cure}"),
    ]


def test_a_name_in_two_alphabets_is_said() -> None:
    _, findings = read(lines.bottle_lines, "material\n\u041cusk base\nРоза\n")
    assert findings == [
        (
            "look-alike",
            't.csv, row 2, column material: "\u041cusk base" mixes alphabets: U+041C (cyrillic capital letter em) '
            "looks like a Latin letter and makes another name.",
        )
    ]


def test_a_name_on_two_lines_is_one_and_a_name_that_holds_a_file_is_none() -> None:
    (line,), findings = read(lines.bottle_lines, 'material,lot\n"Rose\n oil",1\n')
    assert (line.material, findings) == ("Rose oil", [])
    _, findings = read(lines.bottle_lines, f"material\n{'x' * 5000}\n")
    assert findings == [
        ("too-long", f't.csv, row 2, column material: "{"x" * 37}..." has 5000 characters: 200 are the most.')
    ]


def test_a_target_band_the_wrong_way_round() -> None:
    _, findings = read(target_lines, "constituent,low,high\ngeraniol,5,3\n")
    assert findings == [("band", "t.csv, row 2, column low: low is above high.")]


def test_a_target_row_without_a_name() -> None:
    (rows, _), findings = read(target_lines, "constituent,G1\n,40\ngeraniol,60\n")
    assert [line.name for line in rows] == ["geraniol"]
    assert [code for code, _ in findings] == ["blank"]
    assert findings[0][1].startswith("t.csv, row 2, column constituent: blank; a constituent, several joined")


@pytest.mark.parametrize("weight", ["-1", "inf", "2e6"])
def test_weights_out_of_range(weight: str) -> None:
    _, findings = read(target_lines, f"constituent,G1,weight\ngeraniol,40,{weight}\n")
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
        (
            "strength,carrier",
            "100,DPG",
            (
                "carrier-but-neat",
                "t.csv, row 2, column strength: a carrier and a strength of 100 %: taken as neat. "
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
    _, findings = read(composition_lines, f"material,part,share,low,high,strength,carrier\nBase,Rose,{cells}\n")
    assert [code for code, _ in findings] == [finding[0]]
    assert finding[1] in (None, findings[0][1])


def test_a_trace_may_have_a_high_of_its_own() -> None:
    (line,), findings = read(composition_lines, "material,part,share,high\nOil,safrole,tr,0.1\n")
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
    ("cells", "sentence"),
    [
        (
            "01.02.2026,skin",
            't.csv, row 2, column date: "01.02.2026" may be two days: which number is the month? '
            "Write it as 2026-11-25, 2026-11 or 2026.",
        ),
        (
            "2026,skn; explodes",
            't.csv, row 2, column cautions: "skn" is none of skin, light, flame, swallow, pets. Did you mean "skin"? '
            '"explodes" is none of skin, light, flame, swallow, pets.',
        ),
    ],
)
def test_no_caution_is_dropped_and_no_date_guessed(cells: str, sentence: str) -> None:
    _, findings = read(lines.limit_lines, f"rule,members,product,max,date,cautions\nR,a,any,1,{cells}\n")
    assert findings == [("bad-cell", sentence)]


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
        ("Rose,,,", "t.csv, row 2, column grams: blank; what is poured is needed here."),
        ("Rose,,,-1", 't.csv, row 2, column grams: "-1" is below 0.'),
        ("Rose,0,DPG,1", 't.csv, row 2, column strength: "0" must be above 0 %.'),
        ("Rose,10,,1", "t.csv, row 2, column carrier: a dilution without a carrier: what is it diluted in?"),
    ],
)
def test_formula_lines_that_are_wrong(cells: str, sentence: str) -> None:
    _, findings = read(lines.formula_lines, f"material,strength,carrier,grams\n{cells}\n")
    assert [text for _, text in findings] == [sentence]
