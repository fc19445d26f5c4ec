"""Samples into rows: combining, closing, bands, sums, foreign and undeclared rows."""

from __future__ import annotations

import math
from typing import Any

import pytest
from tests.studies import BOTTLES, errors_of, row, study, told

from reaccord.domain.study import Study
from reaccord.study.target_rows import scale_of

AGAIN = " If both rows are it, add them up in one; else name each as what it is."


def of(target: str, bottles: str = BOTTLES, compositions: str | None = None, /, **settings: Any) -> Study:
    return study(target=target, bottles=bottles, compositions=compositions, settings=settings)


def labels(made: Study, kind: str) -> list[str]:
    return [r.label for r in made.target.rows if r.kind == kind]


def test_each_sample_is_closed_by_its_own_sum_before_the_mean() -> None:
    made = of("constituent,G1,G2\ngeraniol,30,60\ncitronellol,20,20")
    assert row(made, "geraniol").share == pytest.approx((30 / 50 + 60 / 80) / 2)
    assert made.target.published_sum == pytest.approx(0.65)
    assert made.target.unaccounted == pytest.approx(0.35)


def test_only_the_samples_asked_for_in_any_order_count() -> None:
    made = of("constituent,G1,G2\ngeraniol,30,60\ncitronellol,20,20", target={"samples": ["G2"]})
    assert row(made, "geraniol").share == pytest.approx(0.75)
    assert made.target.samples == ("G2",)


def test_a_blank_in_a_sample_not_asked_for_is_nobodys_business() -> None:
    assert of("constituent,G1,G2\ngeraniol,30,\ncitronellol,20,x", target={"samples": ["G1"]}).warnings == ()


def test_an_unknown_sample() -> None:
    errors = errors_of(settings={"target": {"samples": ["G1", "G7"]}})
    assert told(errors) == [
        ("unknown-sample", 'study.toml, target.samples: target.csv has no sample column "G7". It has: G1.')
    ]


def test_a_misspelt_sample_is_one_finding() -> None:
    target = "constituent,lot A,low,high\ngeraniol,60,,\ncitronellol,,30,50\nlinalool,tr,,"
    for samples in (["lotA"], ["lotA", "lot B"]):
        errors = errors_of(target=target, settings={"target": {"samples": samples}})
        assert [(f.code, f.place.column) for f in errors] == [("unknown-sample", "target.samples")] * len(samples)
        assert str(errors[0]) == (
            'study.toml, target.samples: target.csv has no sample column "lotA". It has: lot A. Did you mean "lot A"?'
        )


def test_a_sample_asked_for_twice() -> None:
    errors = errors_of(settings={"target": {"samples": ["G1", "G1"]}})
    assert told(errors) == [("bad-value", 'study.toml, target.samples: "G1" stands twice.')]


def test_a_sum_far_over_100_asks_what_the_numbers_are() -> None:
    (error,) = errors_of(target="constituent,G1\ngeraniol,62\ncitronellol,70")
    assert str(error) == (
        "target.csv, G1: adds up to 132 %, which is over 102 %. Does a row add up others, or are these no percentages?"
    )


def test_in_a_mean_nd_is_0_and_tr_a_quarter_per_mille() -> None:
    made = of("constituent,G1,G2\ngeraniol,50,50\ncitronellol,tr,nd\nlinalool,50,50")
    assert row(made, "citronellol").share == pytest.approx((0.00025 / 1.00025 + 0) / 2)
    assert not row(made, "citronellol").band


def test_tr_in_all_samples_is_a_band() -> None:
    made = of("constituent,G1\ngeraniol,79.975\ncitronellol,tr")
    found = row(made, "citronellol")
    assert (found.low, found.high) == (0, pytest.approx(0.0005 / 0.8))
    assert found.share == pytest.approx(0.00025 / 0.8)
    assert found.factor == pytest.approx(0.001**-0.5)


def test_a_band_from_the_lowest_to_the_highest_sample() -> None:
    made = of("constituent,G1,G2\ngeraniol,60,90\ncitronellol,40,10", target={"combine": "band"})
    found = row(made, "geraniol")
    assert (found.low, found.share, found.high) == pytest.approx((0.6, 0.75, 0.9))
    traces = of("constituent,G1,G2\ngeraniol,60,90\ncitronellol,tr,nd", target={"combine": "band"})
    assert row(traces, "citronellol").low == 0
    assert row(traces, "citronellol").high == pytest.approx(0.0005 / 0.60025)


def test_low_and_high_make_a_band_divided_by_the_sum() -> None:
    made = of("constituent,G1,low,high\ngeraniol,40,30,50\ncitronellol,40,,")
    found = row(made, "geraniol")
    assert (found.low, found.share, found.high) == pytest.approx((30 / 80, 0.5, 50 / 80))


def test_a_missing_end_of_a_band() -> None:
    made = of("constituent,G1,low,high\ngeraniol,40,30,\ncitronellol,60,,80")
    assert (row(made, "geraniol").low, row(made, "geraniol").high) == pytest.approx((0.3, 1.0))
    assert (row(made, "citronellol").low, row(made, "citronellol").high) == pytest.approx((0, 0.8))


def test_a_band_without_a_share_has_its_middle() -> None:
    made = of("constituent,G1,low,high\ngeraniol,,30,50\ncitronellol,60,,")
    assert row(made, "geraniol").share == pytest.approx(0.4)
    assert made.target.published_sum == pytest.approx(1.0)


def test_a_share_outside_its_band_is_said() -> None:
    made = of("constituent,G1,low,high\ngeraniol,40,50,60\ncitronellol,60,,")
    assert told(made.warnings) == [
        (
            "outside-band",
            "target.csv, row 2, column G1: this share lies outside the band of its row; the band is what counts.",
        )
    ]


def test_a_table_of_ranges_needs_no_sample() -> None:
    made = of("constituent,low,high\ngeraniol,50,70\ncitronellol,30,50")
    assert made.target.samples == ()
    assert row(made, "geraniol").share == pytest.approx(0.6)


def test_sums_over_102_and_empty_samples() -> None:
    errors = errors_of(target="constituent,G1,G2\ngeraniol,62.1,0\ncitronellol,40,nd")
    assert told(errors) == [
        (
            "over-102",
            "target.csv, G1: adds up to 102.1 %, which is over 102 %. Does a row add up others, or stand twice? "
            "If all are right, divide each by their sum.",
        ),
        ("empty-sample", "target.csv, G2: adds up to 0 %."),
    ]
    assert of("constituent,G1\ngeraniol,62\ncitronellol,40").target.published_sum == pytest.approx(1.02)


def test_a_target_of_nothing() -> None:
    errors = errors_of(target="constituent,G1\ngeraniol,nd\ncitronellol,0")
    assert told(errors) == [
        ("empty-sample", "target.csv, G1: adds up to 0 %."),
        ("empty-target", "target.csv: no constituent has a share above zero."),
    ]


def test_blank_shares() -> None:
    errors = errors_of(target="constituent,G1\ngeraniol,60\ncitronellol,")
    assert told(errors) == [
        ("blank", "target.csv, row 3, column G1: blank; write a share, tr or nd, or give low and high.")
    ]
    errors = errors_of(target="constituent,low,high\ngeraniol,50,70\ncitronellol,,")
    assert told(errors) == [("blank", "target.csv, row 3, column constituent: neither a share nor a band.")]


def test_a_cell_that_cannot_be_read_is_one_finding() -> None:
    errors = errors_of(target="constituent,G1,low\ngeraniol,60x5,\ncitronellol,-3,\nlinalool,,abc")
    assert [(f.code, f.place.row, f.place.column) for f in errors] == [
        ("bad-cell", 2, "G1"),
        ("out-of-range", 3, "G1"),
        ("bad-cell", 4, "low"),
    ]


def test_the_same_constituent_twice_names_both_rows() -> None:
    errors = errors_of(target="constituent,G1\ngeraniol,60\n106-24-1,20\ncitronellol + Geraniol,20")
    assert told(errors) == [
        ("duplicate-row", f"target.csv, row 3, column constituent: geraniol is in row 2 (geraniol) already.{AGAIN}"),
        ("duplicate-row", f"target.csv, row 4, column constituent: geraniol is in row 2 (geraniol) already.{AGAIN}"),
    ]


def test_spellings_of_one_constituent_are_one_finding_a_later_row() -> None:
    errors = errors_of(target="constituent,G1\nn-decanal,60\ndecanal,20\nC-10 aldehyde,10\ndecyl aldehyde,10")
    assert told(errors) == [
        ("duplicate-row", f"target.csv, row {row}, column constituent: decanal is in row 2 (decanal) already.{AGAIN}")
        for row in (3, 4, 5)
    ]


def test_each_constituent_that_stands_again_is_said() -> None:
    errors = errors_of(target="constituent,G1\nneral,30\nlinalool,30\nlinalool + neral,20\nneral,20")
    assert [(f.place.row, f.message.split(" is in ")[0]) for f in errors] == [
        (4, "neral"),
        (4, "linalool"),
        (5, "neral"),
    ]


def test_the_same_constituent_twice_in_one_row() -> None:
    errors = errors_of(target="constituent,G1\ngeraniol + 106-24-1,60\ncitronellol,40")
    assert told(errors) == [
        (
            "duplicate-row",
            "target.csv, row 2, column constituent: the same constituent stands twice in this row.",
        )
    ]


def test_several_reported_as_one() -> None:
    made = of("constituent,G1\ngeraniol + linalool,60\ncitronellol,40")
    assert row(made, "geraniol + linalool").members == {"geraniol", "linalool"}


CITRAL = "material,constituent,purity\nC,citral,98\nG,geraniol,100"
APART = "material\nOil"
NERAL_GERANIAL = "material,part,share\nOil,neral,40\nOil,geranial,50\nOil,geraniol,10"


def test_a_sum_covers_its_members_and_itself() -> None:
    made = of("constituent,G1\ncitral,60\ngeraniol,40", APART, NERAL_GERANIAL)
    assert row(made, "citral").members == {"citral", "neral", "geranial"}
    assert labels(made, "foreign") == []


def test_all_members_together_cover_their_sum() -> None:
    made = of("constituent,G1\nneral + geranial,60\ngeraniol,40", CITRAL)
    assert row(made, "neral + geranial").members == {"citral", "neral", "geranial"}


@pytest.mark.parametrize("target", ["neral,20\ngeranial,40\ngeraniol,40", "neral,60\ngeraniol,40"])
def test_a_bottle_that_states_only_the_sum_is_set_aside(target: str) -> None:
    made = of(f"constituent,G1\n{target}", CITRAL)
    listed = "geranial, neral" if "geranial" in target else "neral"
    assert told(made.warnings) == [
        (
            "sum-or-members",
            f"bottles.csv, row 2, column constituent: C states only citral, the target lists {listed}: what holds it "
            'is set aside. To use it, give geranial and neral of C apart, or one target row "geranial + neral".',
        )
    ]
    assert [(aside.stock.key.material, aside.reason) for aside in made.set_aside] == [("C", "states only a sum")]
    assert [found.key.material for found in made.stocks] == ["G"]


def test_a_sum_inside_a_blend_sets_it_aside_too() -> None:
    parts = "material,part,share,part_kind\nBlend,C,50,\nBlend,geraniol,50,\nC,citral,98,"
    bottles = "material,constituent,purity\nBlend,,\nG,geraniol,100"
    made = of("constituent,G1\nneral,60\ngeraniol,40", bottles, parts)
    assert [w.code for w in made.warnings] == ["sum-or-members"]
    assert [aside.stock.key.material for aside in made.set_aside] == ["Blend"]


@pytest.mark.parametrize("share", ["tr", "0.5", "9.9"])
def test_a_small_sum_is_foreign_and_its_bottle_stays(share: str) -> None:
    parts = f"material,part,share\nOil,geraniol,80\nOil,citral,{share}"
    made = of("constituent,G1\nneral,10\ngeranial,20\ngeraniol,70", "material\nOil", parts)
    assert [found.key.material for found in made.stocks] == ["Oil"]
    assert labels(made, "foreign") == ["citral"]
    assert told(made.warnings)[0] == (
        "sum-or-members",
        "compositions.csv, row 3, column part: Oil states only citral, the target lists geranial, neral: it is little of "
        "the bottle and counts as foreign. To have it counted, give geranial and neral of Oil apart, or one target row "
        '"geranial + neral".',
    )


@pytest.mark.parametrize("strength", ["", "10"])
def test_a_sum_is_small_beside_what_is_neat_not_beside_the_carrier(strength: str) -> None:
    bottles = f"material,strength,carrier\nOil,{strength},{'DPG' if strength else ''}\nMint,,"
    parts = "material,part,share\nOil,geraniol,70\nOil,citral,20\nMint,geraniol,99"
    made = of("constituent,G1\nneral,10\ngeraniol,70", bottles, parts)
    assert [aside.stock.key.material for aside in made.set_aside] == ["Oil"]


def test_of_a_bottle_excluded_anyway_no_sum_is_said() -> None:
    made = of("constituent,G1\nneral,60\ngeraniol,40", CITRAL, limits={"exclude": ["C"]})
    assert [aside.reason for aside in made.set_aside] == ["excluded"]
    assert made.warnings == ()


def test_a_sum_and_its_member_are_the_same_twice() -> None:
    errors = errors_of(target="constituent,G1\ncitral,60\nneral,40", bottles=CITRAL)
    assert [f.code for f in errors] == ["duplicate-row"]


def test_foreign_rows() -> None:
    made = of("constituent,G1\ngeraniol,100", "material,constituent,purity\nG,geraniol,100\nN,nerol,100\nD,DPG,100")
    assert labels(made, "foreign") == ["nerol"]
    found = row(made, "nerol")
    assert (found.share, found.low, found.high) == (0, 0, 0)
    assert found.factor == pytest.approx(0.05**-0.5)


@pytest.mark.parametrize("share", ["0", "nd"])
def test_a_row_of_nothing_is_foreign_with_its_weight(share: str) -> None:
    bottles = "material,constituent,purity\nG,geraniol,100\nN,nerol,100"
    made = of(f"constituent,G1,weight\ngeraniol,100,\nnerol,{share},3\nlinalool,{share},5", bottles)
    assert row(made, "nerol").kind == "foreign"
    assert row(made, "nerol").factor == pytest.approx(3 * 0.05**-0.5)
    assert labels(made, "foreign") == ["nerol"]  # no bottle holds linalool


def test_an_upper_end_of_nothing_is_foreign_too() -> None:
    bottles = "material,constituent,purity\nG,geraniol,100\nN,nerol,100"
    made = of("constituent,G1,low,high\ngeraniol,100,,\nnerol,,0,0", bottles)
    assert row(made, "nerol").kind == "foreign"


def test_the_undeclared_row() -> None:
    made = of("constituent,G1\ngeraniol,50\ncitronellol,30")
    found = row(made, "undeclared")
    assert (found.low, found.high) == (0, pytest.approx(0.2 / 0.8))
    assert found.factor == pytest.approx(0.25**-0.5)
    closed = row(of("constituent,G1\ngeraniol,60\ncitronellol,41"), "undeclared")
    assert (closed.high, closed.factor) == (0, pytest.approx(0.05**-0.5))


@pytest.mark.parametrize(
    ("scale", "share", "floor", "factor"),
    [
        ("equal", 0.4, 0.001, 1.0),
        ("proportional", 0.25, 0.001, 2.0),
        ("proportional", 0.0001, 0.01, 10.0),
        ("relative", 0.25, 0.001, 4.0),
        ("relative", 0.0, 0.05, 20.0),
    ],
)
def test_scales(scale: Any, share: float, floor: float, factor: float) -> None:
    assert scale_of(scale, share, floor) == pytest.approx(factor)


def test_the_settings_floors_and_the_weight_make_the_factor() -> None:
    made = of(
        "constituent,G1,weight\ngeraniol,99.9,\ncitronellol,0.1,2",
        fit={"scale": "relative", "floor": "1 %", "foreign_floor": "10 %"},
    )
    assert row(made, "citronellol").factor == pytest.approx(2 / 0.01)
    assert row(made, "geraniol").factor == pytest.approx(1 / 0.999)
    assert row(made, "undeclared").factor == pytest.approx(1 / 0.1)


def test_an_open_rest() -> None:
    bottles = "material,constituent,purity\nG,geraniol,100\nN,nerol,100\nL,linalool,100\nC,citronellol,100"
    made = of(
        "constituent,G1,low,high,weight\ngeraniol,,30,50,\ncitronellol,10,,,\nlinalool,nd,,,2",
        bottles,
        target={"rest": "open"},
    )
    assert (row(made, "geraniol").low, row(made, "geraniol").share) == pytest.approx((0.3, 0.4))  # not divided
    rest = row(made, "all other constituents")
    assert (rest.kind, rest.members, rest.low, rest.high) == ("open rest", {"nerol"}, 0, pytest.approx(0.6))
    assert rest.factor == pytest.approx(0.6**-0.5)
    assert labels(made, "foreign") == ["linalool"]  # written as not detected
    assert row(made, "linalool").factor == pytest.approx(2 * 0.05**-0.5)


def test_lows_over_100_with_an_open_rest() -> None:
    errors = errors_of(
        target="constituent,G1,low,high\ngeraniol,,60,70\ncitronellol,50,,", settings={"target": {"rest": "open"}}
    )
    assert told(errors) == [("over-100", "target.csv: the lows (or shares) add up to 110 %, which is over 100 %.")]


OLD = "material,constituent,purity\nOld lot,,\nG,geraniol,100\nC,citronellol,100\nN,nerol,100"
OLD_PARTS = "material,part,share\nOld lot,geraniol,50\nOld lot,nerol,20\nOld lot,DPG,10"


def test_a_row_may_be_a_material() -> None:
    made = of("constituent,G1\nOld lot,50\ngeraniol,30", OLD, OLD_PARTS)
    # 50 % of the old lot brings 25 % geraniol, 10 % nerol; its carrier and its rest stay unaccounted
    assert made.target.published_sum == pytest.approx(0.65)
    assert row(made, "geraniol").share == pytest.approx(0.55 / 0.65)
    assert row(made, "nerol").share == pytest.approx(0.10 / 0.65)
    assert labels(made, "named") == ["geraniol", "nerol"]


def test_a_material_row_takes_its_weight_along() -> None:
    made = of("constituent,G1,weight\nOld lot,50,4\ngeraniol,30,", OLD, OLD_PARTS)
    assert row(made, "nerol").factor == pytest.approx(4 * (0.1 / 0.65) ** -0.5)


def test_material_rows_that_cannot_be() -> None:
    errors = errors_of(target="constituent,G1,low,high\nOld lot,,10,20", bottles=OLD, compositions=OLD_PARTS)
    assert told(errors)[:2] == [
        (
            "band-on-material",
            "target.csv, row 2, column low: a material row takes a share; give bands on constituents.",
        ),
        ("blank", "target.csv, row 2, column G1: blank; a share is needed here."),
    ]
    errors = errors_of(
        target="constituent,G1,low,high\nOld lot,50,,\ngeraniol,,10,20", bottles=OLD, compositions=OLD_PARTS
    )
    assert told(errors) == [
        (
            "band-on-material",
            "target.csv, row 2, column constituent: geraniol has a band in row 3 and comes with Old lot too; "
            "give it a share there.",
        )
    ]
    errors = errors_of(
        target="constituent,G1\nOld lot,50",
        bottles=OLD,
        compositions=OLD_PARTS,
        settings={"target": {"basis": "fid-area"}},
    )
    assert ("area-of-material", 2) in [(f.code, f.place.row) for f in errors]


def test_a_sum_inside_a_material_row_beside_its_member() -> None:
    errors = errors_of(
        target="constituent,G1\nneral,20\nOld lot,80",
        bottles="material\nOld lot",
        compositions="material,part,share\nOld lot,citral,50\nOld lot,geraniol,50",
    )
    assert "duplicate-row" in [f.code for f in errors]


def test_area_percent_becomes_mass_percent_with_its_sum_kept() -> None:
    bottles = "material,constituent,purity\nL,limonene,100\nE,eugenol,100\nG,geraniol,100"
    made = of("constituent,G1\nlimonene,40\neugenol,40\ngeraniol,tr", bottles, target={"basis": "fid-area"})
    assert made.target.published_sum == pytest.approx(0.80025)
    # response factors 0.765 and 0.947 (de Saint Laumer et al., Anal. Chem. 2010)
    ratio = row(made, "limonene").share / row(made, "eugenol").share
    assert ratio == pytest.approx(0.765 / 0.947, abs=1e-3)
    assert row(made, "geraniol").high == pytest.approx(0.0005 / 0.80025)


def test_bands_of_area_percent_go_with_their_share() -> None:
    bottles = "material,constituent,purity\nL,limonene,100\nE,eugenol,100"
    made = of("constituent,G1,low,high\nlimonene,40,30,50\neugenol,60,,", bottles, target={"basis": "fid-area"})
    found = row(made, "limonene")
    assert found.low / found.share == pytest.approx(30 / 40)
    assert found.high / found.share == pytest.approx(50 / 40)


def test_groups_of_area_percent() -> None:
    bottles = "material,constituent,purity\nG,geraniol,100\nN,nerol,100\nE,eugenol,100\nL,limonene,100"
    made = of("constituent,G1\ngeraniol + nerol,60\neugenol,40", bottles, target={"basis": "fid-area"})
    assert row(made, "geraniol + nerol").share < 0.6
    errors = errors_of(
        target="constituent,G1\nlimonene + eugenol,60\ngeraniol,40",
        bottles=bottles,
        settings={"target": {"basis": "fid-area"}},
    )
    assert told(errors) == [
        (
            "group-response",
            "target.csv, row 2, column constituent: limonene + eugenol: the members respond differently in a "
            "flame-ionisation detector (0.765 to 0.947). Give them in rows of their own.",
        )
    ]


def test_area_percent_without_a_formula() -> None:
    errors = errors_of(
        target="constituent,G1\ngarden ketal,60\ncitronellol,40", settings={"target": {"basis": "fid-area"}}
    )
    assert [(f.code, f.place.row) for f in errors] == [("no-molecular-formula", 2)]


def test_rows_and_columns_in_any_order_give_the_same_target() -> None:
    one = of("constituent,G1,G2\ngeraniol,30,60\ncitronellol,20,20\nlinalool,tr,1")
    other = of("G2,constituent,G1\n1,linalool,tr\n20,citronellol,20\n60,geraniol,30")
    assert [r.label for r in one.target.rows] == [r.label for r in other.target.rows]
    for left, right in zip(one.target.rows, other.target.rows, strict=True):
        assert math.isclose(left.share, right.share, rel_tol=1e-12, abs_tol=1e-15)


@pytest.mark.parametrize("share", ["nd", "0", "-"])
@pytest.mark.parametrize("band", ["0,1", ",1", "0.2,"])
def test_not_there_beside_a_band_is_one_or_the_other(share: str, band: str) -> None:
    errors = errors_of(target=f"constituent,G1,low,high\ngeraniol,60,,\nlinalool,{share},{band}")
    assert told(errors) == [
        (
            "band",
            "target.csv, row 3, column G1: not there, and a band in the same row: leave the share blank if the band is "
            "meant, else low and high.",
        )
    ]


def test_a_band_is_closed_as_the_shares_beside_it() -> None:
    target = "constituent,A,B,low,high\nlinalool,50,25,,\nlimonene,30,15,,\ngeraniol,10,10,9.5,10.5\nnerol,,,1,2"
    made = of(target, f"{BOTTLES}\nLinalool,linalool,100\nLimonene,limonene,100\nNerol,nerol,100")
    found = row(made, "geraniol")
    sums = (91.5, 51.5)
    assert found.share == pytest.approx((10 / sums[0] + 10 / sums[1]) / 2)
    assert (found.low, found.high) == (pytest.approx(0.95 * found.share), pytest.approx(1.05 * found.share))
    only_a_band = row(made, "nerol")
    assert (only_a_band.low, only_a_band.high) == (pytest.approx(1 / 71.5), pytest.approx(2 / 71.5))


def test_not_there_in_one_of_two_samples_may_have_a_band() -> None:
    found = row(of("constituent,G1,G2,low,high\ngeraniol,60,60,,\nlinalool,nd,0.5,0,1"), "linalool")
    assert (found.kind, found.low) == ("named", 0.0)


def test_a_misspelt_sample_of_shares_is_one_finding() -> None:
    errors = errors_of(target="constituent,G1\ngeraniol,60\nlinalool,40", settings={"target": {"samples": ["G7"]}})
    assert [error.code for error in errors] == ["unknown-sample"]


def test_a_table_in_grams_is_asked_about() -> None:
    found = study(target="constituent,G7\ngeraniol,12\nlinalool,8\n").warnings
    assert told(found) == [
        (
            "small-sum",
            "target.csv, G7: adds up to only 20 %; the rest counts as unaccounted. "
            "If these are grams or parts, write them as percent.",
        )
    ]


OIL = f"{BOTTLES}\nOil,,\nLin,linalool,97"
OIL_PARTS = "material,part,share\nOil,geraniol,40\nOil,nerol,50"


@pytest.mark.parametrize("cas", ["", "8000-28-0"])
def test_a_row_that_is_a_material_may_have_a_cas_number(cas: str) -> None:
    made = of(f"constituent,cas,A\nOil,{cas},60\nlinalool,,40", OIL, OIL_PARTS)
    assert [r.label for r in made.target.rows if r.kind == "named"] == ["geraniol", "linalool", "nerol"]


def test_a_row_called_like_a_bottle_of_its_cas_number_is_the_constituent() -> None:
    made = of("constituent,cas,A\nLin,78-70-6,60\ngeraniol,,40", OIL, OIL_PARTS)
    assert row(made, "linalool").share == pytest.approx(0.6)


@pytest.mark.parametrize(("name", "cas", "other"), [("Lin", "106-24-1", "geraniol"), ("Oil", "78-70-6", "linalool")])
def test_a_material_with_the_cas_number_of_something_else(name: str, cas: str, other: str) -> None:
    errors = errors_of(
        target=f"constituent,cas,A\n{name},{cas},60\ncitronellol,,40", bottles=OIL, compositions=OIL_PARTS
    )
    assert told(errors) == [
        (
            "name-cas-disagree",
            f'target.csv, row 2, column cas: "{name}" is a material, but {cas} is "{other}". Take out the CAS number, '
            "or name that.",
        )
    ]


def test_a_material_cannot_be_one_of_several_in_a_row() -> None:
    errors = errors_of(target="constituent,A\nOil + linalool,60\ncitronellol,40", bottles=OIL, compositions=OIL_PARTS)
    assert told(errors) == [
        (
            "joined",
            'target.csv, row 2, column constituent: "Oil" is a material: only constituents are joined in a row. Give '
            "it a row of its own.",
        )
    ]


def test_a_plus_inside_brackets_joins_nothing() -> None:
    made = of("constituent,cas,A\nCitral (geranial + neral),5392-40-5,60\ngeraniol,,40", f"{BOTTLES}\nCit,citral,97")
    assert row(made, "citral").members == {"citral", "geranial", "neral"}
    errors = errors_of(target="constituent,A\n(Z)-beta-ocimene+(E)-beta-ocimene,60\ngeraniol,40")
    assert [(error.code, error.place.row) for error in errors] == [("joined", 2)]
