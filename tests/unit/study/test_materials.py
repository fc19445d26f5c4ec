"""Names of materials and constituents settled, and the parts each material is made of."""

from __future__ import annotations

import pytest
from tests.studies import errors_of, row, stock, study, told

OIL = "material\nOil"
"""One bottle whose composition is given apart."""


def test_spellings_of_one_material_are_one() -> None:
    made = study(
        bottles="material,lot\nRose Oil,1\nrose  oil,2",
        compositions="material,part,share\nROSE OIL,geraniol,60\nrose oil,citronellol,30",
    )
    assert {s.key.material for s in made.stocks} == {"Rose Oil"}
    assert stock(made, "Rose Oil", lot="2").content.typical == {"geraniol": 0.6, "citronellol": 0.3}


def test_names_synonyms_and_numbers_are_one_constituent() -> None:
    made = study(
        target="constituent,G1\n106-24-1,60\nphenethyl alcohol,40",
        bottles="material,constituent,purity\nA,trans-Geraniol,100\nB,PEA,100",
    )
    assert [r.label for r in made.target.rows if r.kind == "named"] == ["2-phenylethanol", "geraniol"]
    assert stock(made, "B").content.typical == {"2-phenylethanol": 1.0}


def test_the_short_form_and_its_impurities() -> None:
    made = study(
        bottles="material,constituent,purity\nA,geraniol,97",
        compositions="material,part,share\nA,nerol,2",
    )
    content = stock(made, "A").content
    assert content.typical == {"geraniol": 0.97, "nerol": 0.02}
    assert content.undeclared == pytest.approx(0.01)


def test_the_short_form_once_more_among_the_impurities() -> None:
    errors = errors_of(
        bottles="material,constituent,purity\nA,geraniol,97", compositions="material,part,share\nA,Geraniol,2"
    )
    assert told(errors) == [
        (
            "duplicate-part",
            "compositions.csv, row 2, column part: A is 97 % geraniol by row 2 of bottles.csv, and 2 % here. Which "
            "counts? Blank constituent and purity there, or take this row out.",
        )
    ]


def test_a_part_twice_under_two_names() -> None:
    errors = errors_of(
        bottles=OIL, compositions="material,part,share\nOil,2-phenylethanol,6\nOil,geraniol,3\noil,60-12-8,1"
    )
    assert told(errors) == [
        ("duplicate-part", 'compositions.csv, row 4, column part: "60-12-8" of Oil stands in row 2 already.')
    ]


def test_lots_with_different_analyses() -> None:
    errors = errors_of(bottles="material,constituent,purity,lot\nA,geraniol,97,1\nA,geraniol,92,2")
    assert told(errors) == [
        (
            "two-analyses",
            "bottles.csv, row 3, column purity: A has another analysis in row 2. Give each lot's analysis "
            "in the compositions (column lot), or this one a name of its own.",
        )
    ]


def test_a_purity_that_cannot_be_read_is_no_second_analysis_and_no_missing_composition() -> None:
    errors = errors_of(bottles="material,constituent,purity,lot\nA,geraniol,97,1\nA,geraniol,9.7x,2\nB,nerol,x,")
    assert told(errors) == [("bad-cell", 'bottles.csv, row 3, column purity: "9.7x" is not a number. So too in row 4.')]


def test_two_bases_for_one_material_whatever_the_order() -> None:
    rows = ["Oil,geraniol,50,mass", "Oil,nerol,10,", "Oil,linalool,10,fid-area"]
    for order in (rows, rows[::-1]):
        errors = errors_of(bottles=OIL, compositions="\n".join(["material,part,share,basis", *order]))
        assert [f.code for f in errors] == ["two-bases"]
    first = errors_of(bottles=OIL, compositions="\n".join(["material,part,share,basis", *rows]))
    assert told(first) == [
        (
            "two-bases",
            "compositions.csv, row 4, column basis: Oil is given by mass in row 2. One basis a material.",
        )
    ]


def test_the_basis_may_stand_on_any_row_of_the_material() -> None:
    rows = ["Oil,limonene,50,", "Oil,eugenol,50,fid-area"]
    contents = [
        stock(study(bottles=OIL, compositions="\n".join(["material,part,share,basis", *order])), "Oil").content
        for order in (rows, rows[::-1])
    ]
    assert contents[0].typical == pytest.approx(contents[1].typical)
    # response factors 0.765 and 0.947 (de Saint Laumer et al., Anal. Chem. 2010)
    assert contents[0].typical["limonene"] == pytest.approx(0.765 / (0.765 + 0.947), abs=2e-4)


def test_an_area_analysis_keeps_its_sum_and_its_undeclared_part() -> None:
    made = study(
        bottles=OIL,
        compositions="material,part,share,high,basis\n"
        "Oil,limonene,40,48,fid-area\nOil,eugenol,40,,fid-area\nOil,undeclared,10,,fid-area",
    )
    content = stock(made, "Oil").content
    assert sum(content.typical.values()) + content.undeclared == pytest.approx(1.0)
    assert content.high["limonene"] / content.typical["limonene"] == pytest.approx(48 / 40)


def test_an_area_of_something_without_a_formula() -> None:
    errors = errors_of(
        bottles=OIL, compositions="material,part,share,basis\nOil,geraniol,50,fid-area\nOil,garden ketal,1,fid-area"
    )
    assert told(errors) == [
        (
            "no-molecular-formula",
            "compositions.csv, row 3, column part: no molecular formula is known for garden ketal, so its area "
            "cannot be converted to mass. Give formula and benzene_rings in the constituents table.",
        )
    ]


def test_an_area_of_something_the_detector_does_not_see() -> None:
    errors = errors_of(
        bottles=OIL, compositions="material,part,share,basis\nOil,geraniol,50,fid-area\nOil,water,1,fid-area"
    )
    assert told(errors) == [
        (
            "no-response",
            "compositions.csv, row 3, column part: water: a flame ionisation detector does not see H2O. "
            "Such a row cannot be area %.",
        )
    ]


def test_a_sum_without_a_formula_responds_as_its_members() -> None:
    table = "constituent,members\nrose alcohols,geraniol;nerol"
    oil = "material,part,share,basis\nOil,rose alcohols,50,fid-area\nOil,limonene,50,fid-area"
    alone = oil.replace("rose alcohols", "geraniol")
    target = "constituent,G1\nlimonene,100"
    sums = study(target=target, bottles=OIL, compositions=oil, constituents=table)
    single = study(target=target, bottles=OIL, compositions=alone)
    assert stock(sums, "Oil").content.typical["limonene"] == stock(single, "Oil").content.typical["limonene"]


def test_a_sum_whose_members_respond_differently() -> None:
    errors = errors_of(
        bottles=OIL,
        constituents="constituent,members\nmixture,limonene;eugenol",
        compositions="material,part,share,basis\nOil,mixture,50,fid-area",
    )
    assert told(errors) == [
        (
            "group-response",
            "compositions.csv, row 2, column part: mixture: the members respond differently in a flame-ionisation "
            "detector (0.765 to 0.947). Give them in rows of their own.",
        )
    ]


def test_a_material_in_an_area_analysis() -> None:
    errors = errors_of(
        bottles="material,constituent,purity\nOil,,\nBase,geraniol,100",
        compositions="material,part,share,basis\nOil,nerol,50,fid-area\nOil,Base,10,fid-area",
    )
    assert told(errors) == [
        ("area-of-material", "compositions.csv, row 3, column part: an area analysis lists constituents only.")
    ]


def test_a_part_is_the_constituent_unless_said_otherwise() -> None:
    tables = {
        "bottles": "material,constituent,purity\nBlend,,\nGeraniol,geraniol,90\nOther,geraniol,100",
        "compositions": "material,part,share,part_kind\nBlend,Geraniol,50,{}\nBlend,Other,50,material",
    }
    plain = study(bottles=tables["bottles"], compositions=tables["compositions"].format(""))
    assert stock(plain, "Blend").content.typical == {"geraniol": 1.0}
    assert told(plain.warnings) == [
        (
            "constituent-or-material",
            'compositions.csv, row 2, column part: "Geraniol" is a constituent and a material; '
            "taken as the constituent, pure. Say which in part_kind.",
        )
    ]
    said = study(bottles=tables["bottles"], compositions=tables["compositions"].format("material"))
    assert stock(said, "Blend").content.typical == pytest.approx({"geraniol": 0.95})
    assert said.warnings == ()


def test_a_material_may_have_the_name_of_its_only_constituent() -> None:
    rows = "material,part,share,part_kind\nGarden ketal,garden ketal,98,constituent"
    made = study(bottles="material\nGarden ketal", compositions=rows)
    assert stock(made, "Garden ketal").content.typical == {"garden ketal": 0.98}
    known = study(bottles="material\nGeraniol", compositions="material,part,share\nGeraniol,geraniol,98")
    assert stock(known, "Geraniol").content.typical == {"geraniol": 0.98}


def test_a_blend_that_holds_itself_is_no_new_constituent() -> None:
    rows = ["Clove-like oil,eugenol,80", "Clove-like oil,clove-like oil,5", "Base,Clove-like oil,50", "Base,geraniol,5"]
    for order in (rows, rows[::-1]):
        errors = errors_of(
            bottles="material\nClove-like oil\nBase", compositions="\n".join(["material,part,share", *order])
        )
        assert [(f.code, f.place.column) for f in errors] == [("loop", "part")]
    assert str(errors[0]) == (
        "compositions.csv, row 4, column part: a blend cannot hold itself: Clove-like oil in Clove-like oil. "
        "If the constituent of that name is meant, write constituent in part_kind."
    )


def test_an_unknown_material_part() -> None:
    errors = errors_of(
        bottles="material,constituent,purity\nBlend,,\nRose base,geraniol,90",
        compositions="material,part,share,part_kind\nBlend,Rose bsae,50,material\nBlend,Musk,1,material",
    )
    assert told(errors) == [
        (
            "unknown-material",
            'compositions.csv, row 2, column part: no material is called "Rose bsae". Did you mean "Rose base"?',
        ),
        ("unknown-material", 'compositions.csv, row 3, column part: no material is called "Musk".'),
    ]


def test_a_strength_of_a_constituent_part() -> None:
    errors = errors_of(
        bottles=OIL, compositions="material,part,share,strength,carrier\nOil,geraniol,50,10,dipropylene glycol"
    )
    assert told(errors) == [
        (
            "strength-of-constituent",
            'compositions.csv, row 2, column strength: "geraniol" is a constituent; '
            "only a material part has a strength and a carrier.",
        )
    ]


@pytest.mark.parametrize("total", [100.5, 102])
def test_a_little_over_100_is_scaled_and_said(total: float) -> None:
    made = study(
        bottles=OIL, compositions=f"material,part,share,high\nOil,geraniol,{total - 40},\nOil,citronellol,40,50"
    )
    content = stock(made, "Oil").content
    assert content.typical == pytest.approx({"geraniol": 1 - 40 / total, "citronellol": 40 / total})
    assert content.high["citronellol"] == pytest.approx(50 / total)
    assert content.undeclared == pytest.approx(0, abs=1e-12)
    assert told(made.warnings) == [
        (
            "scaled-to-100",
            f"compositions.csv, row 2, column share: the parts of Oil add up to {total:g} %; scaled to 100 %.",
        )
    ]


def test_more_than_102_is_an_error() -> None:
    errors = errors_of(bottles=OIL, compositions="material,part,share\nOil,geraniol,62.1\nOil,citronellol,40")
    assert told(errors) == [
        (
            "over-100",
            "compositions.csv, row 2, column share: the parts of Oil add up to 102.1 %, which is over 102 %. "
            "Does a part add up others, or stand twice? If all are right, divide each by their sum.",
        )
    ]


def test_a_misspelt_constituent_is_a_constituent_of_its_own_and_said() -> None:
    made = study(bottles=OIL, compositions="material,part,share\nOil,geraniool,60\nOil,citronellol,30")
    assert [code for code, _ in told(made.warnings)] == ["maybe-misspelt"]
    assert 'Did you mean "geraniol"?' in made.warnings[0].message
    assert row(made, "geraniool").kind == "foreign"


def test_several_in_one_row_without_blanks_round_the_plus() -> None:
    errors = errors_of(target="constituent,G1\ngeraniol+citronellol,60\nlinalool,40")
    assert told(errors) == [
        (
            "joined",
            "target.csv, row 2, column constituent: several in one row are joined with blanks round the plus: "
            '"geraniol + citronellol".',
        )
    ]


def test_a_plus_inside_a_name_joins_nothing() -> None:
    made = study(
        target="constituent,G1\n(+)-limonene,60\n(+)-garden ketal,40",
        bottles="material,constituent,purity\nA,limonene,100\nB,(+)-garden ketal,100",
    )
    assert {r.label for r in made.target.rows if r.kind == "named"} == {"limonene", "(+)-garden ketal"}


def test_one_number_beside_several_names_is_not_read() -> None:
    made = study(target="constituent,cas,G1\ngeraniol + citronellol,106-24-1,60\nlinalool,,40")
    assert told(made.warnings) == [
        (
            "cas-of-several",
            "target.csv, row 2, column cas: one CAS number beside several constituents; not read.",
        )
    ]


def test_a_name_and_a_number_that_disagree() -> None:
    errors = errors_of(target="constituent,cas,G1\ngeraniol,78-70-6,60\ncitronellol,,40")
    assert [(f.code, f.place.row, f.place.column) for f in errors] == [("name-cas-disagree", 2, "cas")]


def test_a_number_beside_a_name_nothing_else_knows_is_learnt() -> None:
    made = study(
        target="constituent,cas,G1\ngarden ketal,106-99-0,60\ncitronellol,,40",
        bottles="material,constituent,purity\ngarden ketal,106-99-0,97",
    )
    assert stock(made, "garden ketal").content.typical == {"garden ketal": 0.97}


def test_reserved_names_in_every_table() -> None:
    errors = errors_of(
        target="constituent,G1\ngeraniol,60\nundeclared,40",
        bottles="material,constituent,purity\nGeraniol,geraniol,100\nUndeclared,nerol,100\nX,undeclared,90",
        compositions="material,part,share,part_kind\nGeraniol,undeclared,1,constituent",
        constituents="constituent\nundeclared",
    )
    assert {(f.code, f.place.file, f.place.row, f.place.column) for f in errors} == {
        ("reserved-name", "target.csv", 3, "constituent"),
        ("reserved-name", "bottles.csv", 3, "material"),
        ("reserved-name", "bottles.csv", 4, "constituent"),
        ("reserved-name", "compositions.csv", 2, "part"),
        ("reserved-name", "constituents.csv", 2, "constituent"),
    }
    joined = errors_of(target="constituent,G1\ngeraniol + undeclared,60\ncitronellol,40")
    assert [(f.code, f.place.row) for f in joined] == [("reserved-name", 2)]


def test_footnotes_and_other_letters_join_the_tables() -> None:
    made = study(
        target="constituent,G1\nLinalool*,20\nß-pinene (1),20\n1.8-cineole [2],20\nρ-cymene†,40",
        bottles='material,constituent,purity\nA,linalool,100\nB,beta-pinene,100\nC,"1,8-cineole",100\nD,p-cymene,100',
        limits="rule,members,product,max\nR,p-cymene (3),any,1",
        settings={"limits": {"dosage": "1 %"}},
    )
    named = {r.label for r in made.target.rows if r.kind == "named"}
    assert named == {"linalool", "beta-pinene", "1,8-cineole", "p-cymene"}
    assert [f.code for f in made.warnings].count("taken-as") == 4
    assert not made.rules[0].members[0].absent


def test_several_constituents_in_one_part() -> None:
    errors = errors_of(bottles=OIL, compositions="material,part,share\nOil,geraniol + nerol,60\nOil,limonene/camphor,9")
    assert [(f.code, f.place.row, f.place.column) for f in errors] == [("joined", 2, "part"), ("joined", 3, "part")]


def test_a_bottle_that_has_an_and_in_its_name() -> None:
    made = study(
        bottles="material,constituent,purity\nLinalool and eugenol,,\nBlend,,",
        compositions="material,part,share\nLinalool and eugenol,linalool,90\nBlend,Linalool and eugenol,50",
    )
    assert stock(made, "Blend").content.typical == {"linalool": 0.45}
    assert made.warnings == ()


def test_a_recipe_of_bottles_named_like_their_constituents_is_asked_about() -> None:
    head = "material,part,share,part_kind\n"
    bottles = "material,constituent,purity\nBlend,,\nOil,,\nGeraniol,geraniol,90\nCitronellol,citronellol,100"
    recipe = "Blend,Geraniol,50,{0}\nBlend,Citronellol,45,{0}\nBlend,undeclared,5,\n"
    analysis = "Oil,geraniol,50,\nOil,citronellol,30,\nOil,limonene,5,\n"
    plain = study(bottles=bottles, compositions=head + recipe.format("") + analysis)
    found = [(f.code, f.place.row) for f in plain.warnings]
    assert found == [("constituent-or-material", 2), ("constituent-or-material", 3)]
    for kind in ("material", "constituent"):
        assert study(bottles=bottles, compositions=head + recipe.format(kind) + analysis).warnings == ()
    pure = bottles.replace("90", "100")
    assert study(bottles=pure, compositions=head + recipe.format("") + analysis).warnings == ()


def test_impurities_over_102_are_said_where_they_stand() -> None:
    errors = errors_of(
        bottles="material,constituent,purity\nB,citronellol,100\nA,geraniol,97",
        compositions="material,part,share\nA,nerol,3\nA,linalool,3",
    )
    said = "compositions.csv, row 2, column share: the parts of A add up to 103 %, which is over 102 %. "
    cure = "Does a part add up others, or stand twice? If all are right, divide each by their sum."
    assert told(errors) == [("over-100", said + cure)]


def test_a_part_called_just_like_a_material_is_that_whatever_stands_round_a_name() -> None:
    bottles = "material,constituent,purity\nGeraniol 97,geraniol,97\nLinalool (78-70-6),linalool,90\nBase,,"
    made = study(bottles=bottles, compositions="material,part,share\nBase,Linalool (78-70-6),40\nBase,geraniol,60")
    base = next(stock for stock in made.stocks if stock.key.material == "Base")
    assert base.content.typical["linalool"] == pytest.approx(0.36)
    other = "material,part,share\nBase,linalool [78-70-6],40\nBase,geraniol,60"
    made = study(bottles=bottles, compositions=other)
    base = next(stock for stock in made.stocks if stock.key.material == "Base")
    assert base.content.typical["linalool"] == pytest.approx(0.4)


def test_a_carrier_is_near_no_bottle_of_itself_in_any_order() -> None:
    rows = ["G,geraniol,100,10,garden solvent", "Garden solvent 99,garden solvent,99,,"]
    for order in (rows, rows[::-1]):
        made = study(bottles="\n".join(["material,constituent,purity,strength,carrier", "C,citronellol,100,,", *order]))
        assert [found.code for found in made.warnings] == ["unknown-names"]
