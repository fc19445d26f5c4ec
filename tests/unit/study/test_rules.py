"""Rules on restricted substances and named amounts, names resolved."""

from __future__ import annotations

import math
from typing import Any

import pytest
from tests.studies import BOTTLES, errors_of, stock, study, told

from reaccord.domain.limits import NamedAmount, Rule
from reaccord.domain.study import Study

HEAD = "rule,members,product,max,kind\n"
SOAP = {"product": "hand soap", "dosage": "1 %"}


def ruled(rows: str, bottles: str = BOTTLES, compositions: str | None = None, /, **limits: Any) -> Study:
    settings = {"limits": {**SOAP, **limits}}
    return study(limits=HEAD + rows, bottles=bottles, compositions=compositions, settings=settings)


def wrong(rows: str, **limits: Any) -> list[tuple[str, str]]:
    return told(errors_of(limits=HEAD + rows, settings={"limits": {**SOAP, **limits}}))


def claims(rule: Rule) -> list[tuple[str, list[tuple[float, str]], float]]:
    return [(claim.label, [(c, m.name) for c, m in claim.terms], claim.most) for claim in rule.claims()]


def test_each_member_has_the_limit() -> None:
    (rule,) = ruled("R,geraniol;citronellol,hand soap,0.5,each").rules
    assert claims(rule) == [
        ("R: citronellol", [(1.0, "citronellol")], 0.005),
        ("R: geraniol", [(1.0, "geraniol")], 0.005),
    ]


def test_the_sum_of_the_members_has_the_limit() -> None:
    (rule,) = ruled("R,geraniol;citronellol,hand soap,0.5,sum").rules
    assert claims(rule) == [("R", [(1.0, "citronellol"), (1.0, "geraniol")], 0.005)]


def test_lines_of_a_ratio_are_one_rule() -> None:
    (rule,) = ruled("R,geraniol,hand soap,0.5,ratio\nR,citronellol;nerol,Hand Soap,0.2,ratio").rules
    assert claims(rule) == [
        (
            "R",
            [(pytest.approx(500), "citronellol"), (pytest.approx(200), "geraniol"), (pytest.approx(500), "nerol")],
            1.0,
        )
    ]


@pytest.mark.parametrize("second", ["R,citronellol,any,0.2,ratio", "r ,citronellol,hand soap,0.2,ratio"])
def test_a_ratio_for_any_product_and_in_other_letters_is_the_same_rule(second: str) -> None:
    (rule,) = ruled(f"R,geraniol,hand soap,0.5,ratio\n{second}").rules
    assert claims(rule) == [("R", [(pytest.approx(500), "citronellol"), (pytest.approx(200), "geraniol")], 1.0)]


def test_a_ratio_of_another_product_is_another_rule() -> None:
    (rule,) = ruled("R,geraniol,hand soap,0.5,ratio\nR,citronellol,candle,0.2,ratio").rules
    assert claims(rule) == [("R", [(pytest.approx(200), "geraniol")], 1.0)]


def test_a_rule_is_no_ratio_in_one_line_only() -> None:
    assert wrong("R,geraniol,hand soap,0.5,ratio\nr,citronellol,hand soap,0.2,each") == [
        (
            "rule-kinds",
            'limits.csv, row 3, column kind: the rule "r" is a ratio in row 2, but each here. All lines of a ratio say '
            "ratio; another limit needs another name.",
        )
    ]


@pytest.mark.parametrize(("cell", "most"), [("", 0.0), ("10 ppm", 1e-5)])
def test_prohibited_up_to_an_unavoidable_trace(cell: str, most: float) -> None:
    (rule,) = ruled(f"R,safrole,hand soap,{cell},prohibited").rules
    assert claims(rule) == [("R: safrole", [(1.0, "safrole")], most)]


def test_only_the_rules_of_the_product_and_of_any_hold() -> None:
    made = ruled("A,geraniol,candle,1,\nB,geraniol,HAND SOAP,2,\nC,geraniol,Any,3,")
    assert [(rule.label, rule.most) for rule in made.rules] == [("B", 0.02), ("C", 0.03)]


def test_rules_carry_who_says_so() -> None:
    made = study(
        limits="rule,members,product,max,authority,edition,date,cautions\nR,geraniol,any,1,House,2,2026-01,skin; pets",
        settings={"limits": {"dosage": "1 %"}},
    )
    (rule,) = made.rules
    assert (rule.authority, rule.edition, rule.date, rule.cautions) == ("House", "2", "2026-01", ("skin", "pets"))


def test_a_table_for_any_product_leaves_the_product_free() -> None:
    assert len(ruled("R,geraniol,any,1,", product=None).rules) == 1
    assert len(ruled("R,geraniol,any,1,", product="anything").rules) == 1


def test_an_unknown_or_missing_product() -> None:
    rows = "R,geraniol,hand soap,1,\nR,geraniol,candle,1,"
    assert wrong(rows, product="hand sope") == [
        (
            "unknown-product",
            'study.toml, limits.product: no limit names the product "hand sope". The table has: candle, hand soap. '
            'Did you mean "hand soap"?',
        )
    ]
    assert wrong(rows, product=None) == [
        (
            "missing-key",
            "study.toml, limits.product: missing; the limits hold for: candle, hand soap. Which is it?",
        )
    ]


def test_a_missing_dosage() -> None:
    assert wrong("R,geraniol,any,1,", dosage=None) == [
        (
            "missing-key",
            "study.toml, limits.dosage: missing; limits hold for the finished product, "
            "so the share of the accord in it is needed.",
        )
    ]


def test_a_dosage_or_product_that_cannot_be_read_is_not_missing_as_well() -> None:
    rows = "R,geraniol,hand soap,1,"
    assert [code for code, _ in wrong(rows, dosage="1,800 %")] == ["bad-value"]
    assert [code for code, _ in wrong(rows, product=5)] == ["bad-value"]


def test_an_edition_of_the_future_is_said() -> None:
    dates = ["2026-11-26", "2026-11-25", "2027", "2026", "2026-12", "", "2026-11-26"]
    rows = [f"R{n},geraniol,any,1,{date}" for n, date in enumerate(dates)]
    made = study(limits="\n".join(["rule,members,product,max,date", *rows]), settings={"limits": {"dosage": "1 %"}})
    assert told(made.warnings) == [
        (
            "date-ahead",
            f"limits.csv, row {row}, column date: {date} is after the day of the study (2026-11-25){more}.",
        )
        for row, date, more in [(2, "2026-11-26", " (so too in 1 more row)"), (4, "2027", ""), (6, "2026-12", "")]
    ]


def test_a_product_without_a_table_is_said() -> None:
    made = study(settings={"limits": SOAP})
    assert told(made.warnings) == [
        ("no-limits-table", "study.toml, limits.product: a product is named but no table of restricted substances.")
    ]


def test_a_member_nothing_knows_also_in_a_rule_for_another_product() -> None:
    assert wrong("R,geranoil;unobtainium,candle,1,each\nS,geraniol,hand soap,1,") == [
        (
            "unknown-member",
            'limits.csv, row 2, column members: the rule "R" names "geranoil", which no table and no registry knows. '
            'Did you mean "Geraniol"?',
        ),
        (
            "unknown-member",
            'limits.csv, row 2, column members: the rule "R" names "unobtainium", which no table and no registry '
            "knows.",
        ),
    ]


def test_a_member_twice_under_two_names() -> None:
    assert wrong("R,geraniol,hand soap,1,\nR,106-24-1,hand soap,2,\nS,nerol;cis-geraniol,any,1,each") == [
        (
            "duplicate-row",
            'limits.csv, row 3, column members: the rule "R" limits geraniol for hand soap in row 2 already.',
        ),
        (
            "duplicate-row",
            'limits.csv, row 4, column members: the rule "S" limits nerol for any in row 4 already.',
        ),
    ]


def test_known_but_not_on_the_shelf_is_absent() -> None:
    (rule,) = ruled("R,geraniol;safrole,any,1,each").rules
    assert [(m.name, m.absent) for m in rule.members] == [("geraniol", False), ("safrole", True)]


def test_a_carrier_may_be_restricted() -> None:
    bottles = BOTTLES + "\nDEP,diethyl phthalate,100"
    (rule,) = ruled("R,diethyl phthalate,any,1,", bottles).rules
    assert not rule.members[0].absent


def test_a_material_as_a_member_counts_inside_blends_too() -> None:
    made = ruled(
        "R,Oak base,any,1,",
        "material,constituent,purity,strength,carrier\nOak base,,,,\nBlend,,,,\nOak base,,,10,DPG\nG,geraniol,100,,",
        "material,part,share,high\nOak base,geraniol,50,\nBlend,Oak base,20,30\nBlend,citronellol,80,",
    )
    (rule,) = made.rules
    (member,) = rule.members
    assert (member.material, member.constituents) == ("Oak base", frozenset())
    assert member.held(stock(made, "Oak base", strength=1).content) == 1
    assert member.held(stock(made, "Oak base", strength=0.1).content) == pytest.approx(0.1)
    assert member.held(stock(made, "Blend").content) == pytest.approx(0.3)  # at its high end
    assert member.held(stock(made, "G").content) == 0


OILS = "material\nOil\nGeraniol oil"
CITRAL = "material,part,share,high\nOil,citral,60,70\nGeraniol oil,geraniol,90,\nGeraniol oil,neral,1,2"


def test_a_sum_in_a_rule_covers_its_members_at_their_high_end() -> None:
    made = ruled("R,citral,any,1,", OILS, CITRAL)
    (member,) = made.rules[0].members
    assert member.held(stock(made, "Oil").content) == pytest.approx(0.7)
    assert member.held(stock(made, "Geraniol oil").content) == pytest.approx(0.02)
    assert made.warnings == ()


def test_a_sum_that_may_be_the_member_counts_in_full_and_is_said() -> None:
    made = ruled("R,neral,any,1,", OILS, CITRAL)
    (member,) = made.rules[0].members
    assert member.held(stock(made, "Oil").content) == pytest.approx(0.7)
    assert member.held(stock(made, "Geraniol oil").content) == pytest.approx(0.02)
    assert told(made.warnings) == [
        (
            "sum-counted",
            "limits.csv, row 2, column members: a bottle states only citral, which may be neral: "
            "all of it counts as such here.",
        )
    ]


def test_in_a_sum_of_members_nothing_counts_twice() -> None:
    made = ruled("R,neral;geranial;citral,any,1,sum", OILS, CITRAL)
    (rule,) = made.rules
    for name, held in (("Oil", 0.7), ("Geraniol oil", 0.02)):
        content = stock(made, name).content
        assert sum(member.held(content) for member in rule.members) == pytest.approx(held)


def test_in_a_ratio_what_two_members_cover_counts_under_the_stricter() -> None:
    made = ruled("R,neral,any,1,ratio\nR,citral,any,0.1,ratio", OILS, CITRAL)
    (rule,) = made.rules
    content = stock(made, "Oil").content
    assert sum(c * m.held(content) for claim in rule.claims() for c, m in claim.terms) == pytest.approx(0.7 / 0.001)


def amounts(*items: dict[str, Any]) -> tuple[NamedAmount, ...]:
    return study(settings={"limits": {"amount": list(items)}}).amounts


def test_named_amounts() -> None:
    assert amounts({"material": "GERANIOL", "at_least_g": 1}, {"material": "Citronellol", "exactly_g": 2}) == (
        NamedAmount("Citronellol", 2, 2),
        NamedAmount("Geraniol", 1, math.inf),
    )
    assert amounts({"material": "Geraniol", "at_most_g": 0}) == (NamedAmount("Geraniol", 0, 0),)


def bad_amount(*items: dict[str, Any], **more: Any) -> list[tuple[str, str]]:
    settings = {"limits": {"amount": list(items), **more.pop("limits", {})}, **more}
    return told(errors_of(settings=settings, compositions="material,part,share\nOld base,nerol,100"))


def test_amounts_of_nothing() -> None:
    assert bad_amount(
        {"material": "Geraniool", "at_least_g": 1},
        {"material": "Old base", "at_most_g": 1},
        {"material": "Citronellol", "at_most_g": 1},
        {"material": "citronellol", "at_least_g": 1},
    ) == [
        (
            "unknown-material",
            'study.toml, limits.amount[1].material: no bottle is called "Geraniool". Did you mean "Geraniol"?',
        ),
        ("unknown-material", 'study.toml, limits.amount[2].material: no bottle is called "Old base".'),
        ("duplicate-row", "study.toml, limits.amount[4].material: Citronellol has an amount already."),
    ]


def test_an_amount_of_what_may_not_be_used() -> None:
    assert bad_amount({"material": "Geraniol", "at_least_g": 1}, limits={"exclude": ["Geraniol"]}) == [
        (
            "nothing-to-pour",
            "study.toml, limits.amount[1].material: Geraniol is wanted, but no bottle of it may be used "
            "(excluded, overdue or empty).",
        )
    ]


def test_exactly_off_the_grid() -> None:
    assert bad_amount({"material": "Geraniol", "exactly_g": 1.234}, balance={"readability_g": 0.01}) == [
        (
            "off-grid",
            "study.toml, limits.amount[1].exactly_g: 1.234 g cannot be weighed in whole steps of 0.01 g.",
        )
    ]
    fine = {"limits": {"amount": [{"material": "Geraniol", "exactly_g": 1.23}]}, "balance": {"readability_g": 0.01}}
    assert study(settings=fine).amounts == (NamedAmount("Geraniol", 1.23, 1.23),)


@pytest.mark.parametrize(("head", "end"), [(HEAD, ","), (HEAD.replace(",kind", ""), "")])
def test_a_rule_of_several_members_must_say_its_kind_once_for_all_rows(head: str, end: str) -> None:
    rows = f"R,geraniol;citronellol,hand soap,1{end}\nS,geraniol,hand soap,1{end}\nT,nerol;citronellol,any,1{end}"
    assert told(errors_of(limits=head + rows, settings={"limits": SOAP})) == [
        (
            "which-kind",
            'limits.csv, row 2, column kind: "R" has several members and no kind: each or sum? Write each if every one '
            "of them may be so much, sum if all of them together may. So too in row 4.",
        )
    ]


def test_a_kind_that_is_asked_for_is_not_also_another_than_the_ratio_of_that_name() -> None:
    found = wrong("R,geraniol,hand soap,0.5,ratio\nR,citronellol;nerol,hand soap,0.2,")
    assert [code for code, _ in found] == ["which-kind"]
