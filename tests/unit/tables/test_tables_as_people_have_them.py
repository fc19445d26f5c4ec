"""Whole tables as journals, suppliers and people write them: read, left out and said, or asked about. All invented."""

from __future__ import annotations

import pytest
from tests.studies import BOTTLES, errors_of, row, stock, study, told

from reaccord.domain.lines import Reported
from reaccord.domain.study import Study

JOURNAL = """Table 1. Two lots of the garden geranium (invented),,,,,
No.,Compounda,RIb,Content (%),,ID
,,,G7,G8,
,Monoterpenes,,,,
1,Linalool,1098,6.1 ± 0.2a,5.0 (0.1),"RI, MS"
2,"1,8-Cineole",1031,0.4,tr g,"RI, MS"
3,Citronellol,1225,38.0*,,RI
4,Geraniol,1251,30.5,41.0,Std
5,Unknown 1,1300,1.0,0.5,
6,Unknown (m/z 119),1301,0.5,—c,
,Monoterpenes oxygenated,,74.6,46.0,
,Total identified,,75.0,46.0,
,Yield (%),,0.12,0.10,
"a Listed in order of elution; tr, trace; n.d., not detected.",,,,,
"""


def of(target: str, **settings: object) -> Study:
    return study(target=target, settings={"target": settings})


def lines(made: Study) -> dict[str, list[float | None]]:
    return {x.name: [s.number if s else None for s in x.shares.values()] for x in made.tables.target}


def said(made: Study, code: str) -> list[str]:
    return [found.message for found in made.warnings if found.code == code]


def test_a_journals_table_as_it_is_pasted() -> None:
    made = of(JOURNAL)
    assert lines(made) == {
        "Linalool": [0.061, 0.05],
        "1,8-Cineole": [0.004, 0.00025],
        "Citronellol": [0.38, 0.0],
        "Geraniol": [0.305, 0.41],
    }
    assert made.target.samples == ("G7", "G8")
    assert made.target.published_sum == pytest.approx((0.75 + 0.46025) / 2)
    assert said(made, "left-out") == [
        '1 row above the headings left out: "Table 1. Two lots of the garden geran...".',
        '1 row left out with a name and nothing else, which head those below: "Monoterpenes".',
        '2 rows left out of what is not named, which counts as unaccounted: "Unknown 1", "Unknown (m/z 119)".',
        '2 rows left out that add up others or are classes of them: "Monoterpenes oxygenated", "Total identified".',
        '1 row left out that say something of the whole: a yield, a number of constituents: "Yield (%)".',
        '1 row left out below the table, which are notes: "a Listed in order of elution; tr, tra...".',
    ]
    assert "taken as not detected: blank beside what another sample has." in said(made, "taken-as")


def test_findings_come_in_the_order_of_rows() -> None:
    rows = [found.place.row or 0 for found in of(JOURNAL).warnings if found.place.file == "target.csv"]
    assert rows == sorted(rows)


def test_what_a_person_named_is_no_title_and_no_class() -> None:
    made = study(
        target="constituent,G1\nEsters,60\ngeraniol,40",
        constituents="constituent,members\nEsters,geranyl acetate;citronellyl acetate",
    )
    assert row(made, "Esters").share == pytest.approx(0.6)
    errors = errors_of(target="constituent,G1\nSome title,\ngeraniol,60\nlinalool,\nnerol,30\nnothing below,")
    text = "blank; write a share, tr or nd, or give low and high."
    assert told(errors) == [("blank", f"target.csv, row 4, column G1: {text} So too in row 6.")]


def test_a_total_without_a_name_is_one_if_it_fits() -> None:
    assert lines(of("constituent,G1\ngeraniol,60\ncitronellol,38\n,98.0")) == {"geraniol": [0.6], "citronellol": [0.38]}
    errors = errors_of(target="constituent,G1\ngeraniol,60\ncitronellol,30\n,8")
    assert [(f.code, f.place.row) for f in errors] == [("blank", 4)]


@pytest.mark.parametrize(
    "heading",
    [
        "Chemical Component",
        "Name of compounds",
        "Volatile Compound",
        "Molecule",
        "Volatile name",
        "Compounds identified",
    ],
)
def test_headings_of_the_names(heading: str) -> None:
    made = of(f"{heading},RI,Area\ngeraniol,1251,60\ncitronellol,1225,40")
    assert list(lines(made)) == ["geraniol", "citronellol"]


def test_names_under_a_wrong_heading_or_none() -> None:
    made = of("Compound,Area,Library\n1,60,geraniol\n2,38,citronellol\n3,2,linalool")
    assert lines(made) == {"geraniol": [0.6], "citronellol": [0.38], "linalool": [0.02]}
    made = of("N.,,%\n1,geraniol,60\n2,citronellol,40")
    assert list(lines(made)) == ["geraniol", "citronellol"]


def test_columns_that_can_hold_no_share_are_left_out_by_what_they_hold() -> None:
    made = of("constituent,Polar,Count,Kind,G1\ngeraniol,1850,1,A,60\ncitronellol,1760,2,B,38\nlinalool,1500,3,A,2")
    assert made.target.samples == ("G1",)
    assert sum("left out" in message for message in said(made, "taken-as")) == 3


def test_semicolons_and_decimal_commas() -> None:
    made = of("Verbindung;CAS;Gehalt (%)\nGeraniol;106-24-1;60,5\nCitronellol;106-22-9;38,25\nLinalool;78-70-6;1,125\n")
    assert lines(made) == {"Geraniol": [0.605], "Citronellol": [0.3825], "Linalool": [pytest.approx(0.01125)]}
    assert said(made, "taken-as")[0] == "the cells are parted by semicolons; read so."
    assert "decimal commas read as such." in said(made, "taken-as")


def test_a_comma_that_may_part_thousands_stays_a_question() -> None:
    bottles = 'material,constituent,purity,stock_g\nG,geraniol,97,"1,250"\nC,citronellol,97,{}'
    assert told(errors_of(bottles=bottles.format("3"))) == [
        (
            "bad-cell",
            'bottles.csv, row 2, column stock_g: "1,250" may be 1.250 or 1250: write which of them, without a comma.',
        )
    ]
    assert stock(study(bottles=bottles.format('"2,5"')), "G").maximum_g == 1.25
    assert stock(study(bottles=bottles.format('"1,250.5"')), "C").maximum_g == 1250.5
    assert errors_of(bottles=bottles.format("2.5"))


def test_a_markdown_table() -> None:
    made = of(
        "The accord (invented):\n\n| Compound | RI | % |\n|---|--:|---|\n| geraniol | 1251 | 60 |\n| nerol | 1 | 40 |\n"
    )
    assert lines(made) == {"geraniol": [0.6], "nerol": [0.4]}


def test_ranges_in_the_cells_of_a_certificate() -> None:
    made = of("Constituent,Content\ngeraniol,15-35\ncitronellol,> 40\nlinalool,up to 9\nnerol,~3", rest="open")
    assert {r.label: (r.low, r.share, r.high) for r in made.target.rows if r.kind == "named"} == {
        "geraniol": pytest.approx((0.15, 0.25, 0.35)),
        "citronellol": pytest.approx((0.4, 0.7, 1.0)),
        "linalool": pytest.approx((0, 0.045, 0.09)),
        "nerol": pytest.approx((0.03, 0.03, 0.03)),
    }


def test_ranges_in_a_composition_and_in_a_purity() -> None:
    made = study(
        bottles="material,constituent,purity\nG,geraniol,> 95 %\nC,citronellol,97-99\nOil,,",
        compositions="material,part,share\nOil,geraniol,20–40\nOil,nerol,10",
    )
    (line, _) = made.tables.compositions
    assert (line.low, line.share, line.high) == (0.2, Reported(pytest.approx(0.3)), 0.4)
    assert (stock(made, "G").content.typical, stock(made, "G").content.high) == ({"geraniol": 0.975}, {"geraniol": 1.0})
    assert stock(made, "C").content.high == {"citronellol": 0.99}
    assert "taken as the low end, to 100 %; typically the middle." in said(made, "taken-as")


SHELF = """Shelf of the studio (invented),,,,,,,
counted in November,,,,,,,
Material,Constituent,Purity (%),Price (€/kg),Stock (g),Opened,Shelf life (months),Remarks
ALCOHOLS,,,,,,,
Geraniol 97,geraniol,97,"31,00 €",190 g,09.03.2026,24,fine
Citronellol,citronellol,95,"29,50",0.2 kg,25.03.2026,24,
Nerol,nerol,96,"88,00",30,2026-03,12 months,
* weighed with the bottle,,,,,,,
Total,,,,420,,,
"""


def test_a_shelf_as_it_stands_in_a_workbook() -> None:
    made = study(bottles=SHELF)
    bottles = {line.material: line for line in made.tables.bottles}
    assert list(bottles) == ["Geraniol 97", "Citronellol", "Nerol"]
    found = bottles["Geraniol 97"]
    assert (found.purity, found.price_per_kg, found.stock_g, found.keeps_months, found.note) == (
        0.97,
        31,
        190,
        24,
        "fine",
    )
    assert [str(line.opened) for line in bottles.values()] == ["2026-03-09", "2026-03-25", "2026-03-01"]
    assert (bottles["Citronellol"].stock_g, bottles["Nerol"].keeps_months) == (200, 12)
    assert {"dates read as day.month.year.", "a month read as its first day."} <= set(said(made, "taken-as"))
    assert [message.split(":")[0] for message in said(made, "left-out")] == [
        "2 rows above the headings left out",
        "1 row left out with a name and nothing else, which head those below",
        "1 row left out below the table, which are notes",
        "1 row left out that add up others or are classes of them",
    ]


def test_a_date_that_may_be_two_days_is_asked_about() -> None:
    bottles = "material,constituent,purity,opened\nG,geraniol,97,{}\nC,citronellol,95,{}"
    (error,) = errors_of(bottles=bottles.format("03.02.2026", "05.05.2026"))
    assert (error.place.row, error.place.column) == (2, "opened")
    assert "which number is the month?" in error.message
    made = study(bottles=bottles.format("2/3/2026", "2/25/2026"))
    assert [str(line.opened) for line in made.tables.bottles] == ["2026-02-03", "2026-02-25"]


def test_an_unknown_column_is_left_out_and_one_that_may_be_known_asked_about() -> None:
    made = study(bottles=BOTTLES.replace("purity", "purity,colour of the cap").replace(",100", ",100,red"))
    assert said(made, "left-out") == ["left out: no such column is known."]
    for heading in ("strenght", "strengthcarrier", "strength/carrier"):
        errors = errors_of(bottles=BOTTLES.replace("purity", f"purity,{heading}").replace(",100", ",100,5"))
        assert [error.code for error in errors] == ["unknown-column"], heading
    parts = "material,part,share,lowhigh\nOil,geraniol,50,40"
    errors = errors_of(bottles=f"{BOTTLES}\nOil,,", compositions=parts)
    assert [error.code for error in errors] == ["unknown-column"]


def test_an_unnamed_peak_of_area_percent_has_the_mean_factor_of_the_named() -> None:
    area = {"geraniol": 50.0, "p-cymene": 30.0}
    named = "constituent,G1\n" + "\n".join(f"{name},{share}" for name, share in area.items())
    alone, made = of(named, basis="fid-area"), of(named + "\nNI,15\nUnknown (m/z 119),5", basis="fid-area")
    assert [x.share for x in made.target.rows] == [x.share for x in alone.target.rows]
    # with the mean factor of the named rows an unnamed peak keeps its area, whatever that mean is
    assert made.target.unaccounted == pytest.approx(0.2)


LOTS = "material,part,share,lot\nOil,geraniol,60,\nOil,nerol,30,\nOil,geraniol,80,B-2\nOil,citronellol,10,B-2"


def test_a_lot_with_an_analysis_of_its_own() -> None:
    bottles = "material,lot\nOil,A-1\nOil,b-2\nOil,\nBase,"
    made = study(bottles=bottles, compositions=f"{LOTS}\nBase,Oil,50,\nBase,linalool,50,")
    general = {"geraniol": 0.6, "nerol": 0.3}
    assert stock(made, "Oil", lot="A-1").content.typical == general
    assert stock(made, "Oil", lot="").content.typical == general
    assert stock(made, "Oil", lot="b-2").content.typical == {"geraniol": 0.8, "citronellol": 0.1}
    assert stock(made, "Oil", lot="b-2").content.materials == {"Oil": 1.0}
    assert stock(made, "Base").content.typical == {"geraniol": 0.3, "nerol": 0.15, "linalool": 0.5}


def test_a_dilution_made_from_a_lot_holds_what_the_lot_holds() -> None:
    made = study(
        bottles="material,constituent,purity,lot\nOil,,,B-2\nDPG,DPG,100,",
        compositions=LOTS,
        settings={"dilutions": {"strengths": ["10 %"], "carrier": "DPG"}},
    )
    assert stock(made, "Oil", lot="made").content.typical["citronellol"] == pytest.approx(0.01)


def test_a_lot_that_no_bottle_is_of_is_said_and_a_lot_that_nothing_was_stated_of_is_asked_about() -> None:
    made = study(bottles="material,lot\nOil,A-1", compositions=LOTS)
    assert said(made, "unused-composition") == ['no bottle of Oil is of lot "B-2": its analysis is not used.']
    only = "\n".join([LOTS.splitlines()[0], *LOTS.splitlines()[3:]])
    assert [error.code for error in errors_of(bottles="material,lot\nOil,A-1", compositions=only)] == ["no-composition"]


def test_a_blank_material_is_the_one_above() -> None:
    made = study(
        bottles="material,constituent,purity\nOil,,\nBase,,",
        compositions="Material,Component,%\nOil,geraniol,60\n,nerol,30\n,Total,90\nBase,linalool,100\n",
    )
    assert stock(made, "Oil").content.typical == {"geraniol": 0.6, "nerol": 0.3}
    assert "blank: taken as the material above." in said(made, "taken-as")


def test_a_quoted_name_behind_a_column_of_numbers_is_quoted() -> None:
    made = of('Compound,Name,G1\n11,"1,8-Cineole",60\n12,geraniol,40')
    assert list(lines(made)) == ["1,8-Cineole", "geraniol"]
    errors = errors_of(target='constituent,Name,G1\n1,"8,9-cineole",60\n2,geraniol,40')
    assert [(error.code, error.place.row) for error in errors] == [("number-name", 2)]


@pytest.mark.parametrize(
    "target",
    [
        'constituent,G1,low,high,weight\n"1,8-cineole",1,1,,,\ngeraniol,60,,,',
        "constituent,G1,G2\ngeraniol,1,1,\nnerol,3,3",
    ],
)
def test_a_decimal_comma_without_quotes_shifts_nothing(target: str) -> None:
    errors = errors_of(target=target)
    assert [(error.code, error.place.row) for error in errors] == [("too-many-cells", 2)]
    parts = 'material,part,share,low,high\nOil,geraniol,50,,\nOil,"1,8-cineole",1,1,,\nOil,nerol,3,,'
    errors = errors_of(bottles=f"{BOTTLES}\nOil,,", compositions=parts)
    assert [(error.code, error.place.row) for error in errors] == [("too-many-cells", 3)]


@pytest.mark.parametrize(
    ("table", "heading", "named"),
    [
        ("compositions", "material,part,share,low (fraction)", "fraction"),
        ("compositions", "material,part,share (vol %),low", "vol %"),
        ("compositions", "material,part,share,low (ppm)", "ppm"),
        ("bottles", "material,constituent,purity,stock (kg)", "kg"),
        ("bottles", "material,constituent,purity,price (€/100 g)", "/100 g"),
    ],
)
def test_a_unit_in_a_heading_is_never_dropped(table: str, heading: str, named: str) -> None:
    tables = {
        "bottles": f"{BOTTLES}\nOil,,",
        "compositions": f"{heading}\nOil,geraniol,40,0.3",
    }
    if table == "bottles":
        tables = {"bottles": f"{heading}\nG,geraniol,97,5\nC,citronellol,97,5"}
    assert any(error.code in {"unit", "unknown-column"} and named in error.message for error in errors_of(**tables))


def test_of_findings_of_one_cause_in_one_column_there_is_one() -> None:
    (error,) = errors_of(target="constituent,G1\ngeraniol,6x\nnerol,7x\nlinalool,8x\ncitronellol,40")
    assert str(error) == 'target.csv, row 2, column G1: "6x" is not a number. So too in rows 3, 4.'


@pytest.mark.parametrize(
    "text",
    ["linalool,40\ngeraniol,60\n", '1,"1,8-cineole",5\n2,linalool,20\n3,geraniol,70\n', "linalool;4,5\ngeraniol;9\n"],
)
def test_a_table_without_headings_does_not_lose_its_first_row(text: str) -> None:
    (error,) = errors_of(target=text)
    start = "target.csv, row 1: this row holds values, and no headings stand above it. Write them there. If it is the "
    assert str(error) == f"{start}headings, call the column of the names constituent (of bottles: material)."


def test_headings_that_are_numbers_are_none_where_a_heading_is_known() -> None:
    assert of("Compound,1,2\nlinalool,40,30\ngeraniol,60,70\n").target.samples == ("1", "2")


def test_a_table_of_materials_and_percent_is_a_target() -> None:
    made = study(target="material,share\nGeraniol,60\nCitronellol,40\n")
    assert row(made, "geraniol").share == pytest.approx(0.6)
    assert "taken as the column constituent: a row may be a material." in said(made, "taken-as")


@pytest.mark.parametrize("headings", ["material,strength,carrier,grams", "Material;Dilution (%);Solvent;g"])
def test_a_formula_as_a_target_is_told_where_it_belongs(headings: str) -> None:
    sign = ";" if ";" in headings else ","
    table = "\n".join(
        [headings, sign.join(["Geraniol", "", "", "4.5"]), sign.join(["Citronellol", "10", "DPG", "0.5"])]
    )
    error = errors_of(target=table)[0]
    assert error.code == "missing-column"
    assert error.message == (
        "this is a formula: `reaccord compare STUDY FILE` judges one. As a target it needs the columns constituent "
        "(the materials) and a share in percent: gram of neat material, divided by their sum, times 100."
    )
    assert len(errors_of(target=table)) == 1


@pytest.mark.parametrize(
    ("name", "carrier"),
    [("Geraniol 10% in DPG", "DPG"), ("Geraniol 10 % in dipropylene glycol", "dipropylene glycol"),
     ("Geraniol 10 % DPG", "DPG"), ("Geraniol, 10 % in DPG", "DPG")],
)  # fmt: skip
def test_a_dilution_that_only_its_name_says_is_asked_about(name: str, carrier: str) -> None:
    bottles = "material,constituent,purity,strength,carrier\n{},geraniol,97,{},{}\nCitronellol,citronellol,95,,\n"
    quoted = f'"{name}"'
    (error,) = errors_of(bottles=bottles.format(quoted, "", ""))
    assert str(error) == (
        f"bottles.csv, row 2, column strength: blank, but the name says 10 % in {carrier}. Write strength 10 and "
        f"carrier {carrier}, or strength 100 if it is neat."
    )
    for strength, beside in (("10", "DPG"), ("100", "")):
        assert study(bottles=bottles.format(quoted, strength, beside)).stocks


@pytest.mark.parametrize("name", ["Geraniol 97 %", "Geraniol 97", "Citral 95% min", "10 % club base"])
def test_a_purity_in_a_name_is_no_dilution(name: str) -> None:
    assert study(bottles=f"material,constituent,purity\n{name},geraniol,97\nCitronellol,citronellol,95\n").stocks


def test_columns_taken_alike_are_one_finding() -> None:
    made = of(
        "No.,Compound,RI exp,RI lit,Lot A area %,Lot B area %\n1,linalool,1098,1099,40 ± 1,30\n2,geraniol,1255,1256,60,70 ± 2\n"
    )
    found = said(made, "taken-as")
    assert (
        'left out: it holds no share (so too "RI exp", "RI lit"). If it is a sample, name it in target.samples.'
        in found
    )
    assert sum("area percent" in text for text in found) == 1
    deviation = "taken as the number; the deviation behind it is not used (so too in 1 more cell of 2 columns)."
    assert deviation in found
