from __future__ import annotations

import json

import pytest
from tests.tiny_study import CARRIER, GREEN, OIL, OIL_PARTS, RED, tiny

from reaccord.answer.fit import fit
from reaccord.answer.judge import judge
from reaccord.answer.why.reason import Reason
from reaccord.report.check import check_data, check_text, no_source
from reaccord.report.csv_table import csv_text, formula_csv, residual_csv
from reaccord.report.data import CAUTION_WORDS, GENERAL_CAUTION, cautions, fit_data, judgement_data, rule_rows
from reaccord.report.frames import formula_frame, residual_frame
from reaccord.report.quantities import exact_percent
from reaccord.tables import columns

RULE = {"rule": "Reds", "members": "red", "max": "1", "kind": "each"}


def test_the_lines_of_a_formula() -> None:
    thin = GREEN | {"strength": "50", "carrier": "dipropylene glycol", "lot": "G-2", "price_per_kg": ""}
    study = tiny([RED, thin, CARRIER])
    amounts = {s.key: {"Red": 6.0, "Green": 8.0}.get(s.key.material, 0.0) for s in study.stocks}
    data = judgement_data(study, judge(study, amounts), {})
    assert data["formula"] == [
        {
            "material": "Green",
            "strength": 0.5,
            "carrier": "dipropylene glycol",
            "lot": "G-2",
            "grams": 8.0,
            "share": pytest.approx(0.4),
            "cost": None,
        },
        {
            "material": "Red",
            "strength": 1.0,
            "carrier": "",
            "lot": "",
            "grams": 6.0,
            "share": pytest.approx(0.6),
            "cost": pytest.approx(0.06),
        },
    ]
    assert data["totals"]["carrier_g"] == pytest.approx(4)
    assert data["totals"]["unpriced_lines"] == 1
    assert data["totals"]["cost_per_kg"] == pytest.approx(6), "the priced lines over all carrier-free grams"


def test_residuals_and_where_they_come_from() -> None:
    study = tiny([RED, OIL], compositions=OIL_PARTS)
    amounts = {s.key: 5.0 for s in study.stocks}
    judged = judge(study, amounts)
    rows = {
        row["constituent"]: row
        for row in judgement_data(study, judged, {"red": Reason("red", "used_up", "why", 0.1)})["residuals"]
    }
    assert rows["red"]["achieved"] == pytest.approx(0.8)
    assert rows["red"]["residual"] == pytest.approx(0.2)
    assert rows["red"]["reason"] == "why"
    assert rows["green"]["reason"] is None
    assert judgement_data(study, judged, {"red": Reason("red", "used_up", "why", 0.1)})["why"] == [
        {"constituent": "red", "code": "used_up", "sentence": "why", "gain": 0.1}
    ]
    assert (rows["red"]["low"], rows["red"]["high"]) == (None, None), "no band"
    assert rows["red"]["sources"] == [
        {"material": "Red", "share": pytest.approx(0.625)},
        {"material": "Oil", "share": pytest.approx(0.375)},
    ]


def test_everything_is_plain_data_without_nan() -> None:
    study = tiny([RED, GREEN], limits={"cost_per_kg": 20}, rules=[RULE | {"max": "50"}])
    text = json.dumps(fit_data(fit(study)), allow_nan=False)
    assert json.loads(text)["deviation"]["bound"] > 0


def test_who_set_the_rules_is_told_once() -> None:
    two = [RULE, RULE | {"members": "green"}]
    study = tiny(rules=[two[0] | {"edition": "3", "date": "2026-01-15"}])
    assert rule_rows(study) == [
        {
            "rule": "Reds",
            "product": "soap",
            "authority": "house rule (invented)",
            "edition": "3",
            "date": "2026-01-15",
        }
    ]


def test_cautions_only_where_rules_are_in_force_and_in_one_order() -> None:
    assert cautions(tiny()) == []
    found = cautions(tiny(rules=[RULE | {"cautions": "pets; Skin"}]))
    assert found == [GENERAL_CAUTION, CAUTION_WORDS["skin"], CAUTION_WORDS["pets"]]


def test_every_word_of_the_column_cautions_says_something() -> None:
    assert tuple(CAUTION_WORDS) == columns.CAUTIONS


@pytest.mark.parametrize(
    ("share", "text"),
    [(1.0, "100 %"), (0.1, "10 %"), (0.123456789, "12.3456789 %"), (1e-7, "1e-05 %"), (0.0, "0 %")],
)
def test_percent(share: float, text: str) -> None:
    assert exact_percent(share) == text


def test_percent_reads_back_as_the_share_it_was() -> None:
    from reaccord.tables.cells import share

    for value in (0.1, 1 / 3, 0.07, 0.29, 1e-9, 0.999999999999):
        assert share(exact_percent(value)) == pytest.approx(value, rel=1e-14)


def test_formula_csv() -> None:
    study = tiny([RED | {"lot": 'say "R"; 1, 2'}, GREEN | {"price_per_kg": ""}])
    amounts = {s.key: {"Red": 6.0, "Green": 4.001}[s.key.material] for s in study.stocks}
    rows = judgement_data(study, judge(study, amounts), {})["formula"]
    assert formula_csv(rows).splitlines() == [
        "material,strength,carrier,lot,grams,share,cost",
        "Green,,,,4.001,40.006 %,",
        'Red,,,"say ""R""; 1, 2",6.0,59.994 %,0.06',
    ]


def test_residual_csv() -> None:
    study = tiny()
    amounts = {s.key: {"Red": 8.0, "Green": 2.0}[s.key.material] for s in study.stocks}
    lines = residual_csv(
        judgement_data(study, judge(study, amounts), {"red": Reason("red", "comes_with", "too much")})["residuals"]
    ).splitlines()
    assert lines[0] == "constituent,kind,target,low,high,achieved,residual,scaled,reason"
    assert lines[2].startswith("red,named,60 %,,,80 %,20 %,")
    assert lines[2].endswith(",too much")


def test_csv_leaves_blank_what_is_not_known() -> None:
    row = {"code": "x", "file": None, "row": None, "message": "a, b", "more": 1}
    assert (
        csv_text(dict.fromkeys(("code", "file", "row", "message"), str), [row]) == 'code,file,row,message\nx,,,"a, b"\n'
    )


def test_frames() -> None:
    study = tiny()
    judged = judge(study, {s.key: 5.0 for s in study.stocks})
    formula = formula_frame(judged)
    assert list(formula.columns) == ["material", "strength", "carrier", "lot", "grams", "share", "cost"]
    assert formula["share"].sum() == pytest.approx(1)
    residuals = residual_frame(judged, {})
    assert "sources" not in residuals.columns
    assert residuals.set_index("constituent").loc["red", "residual"] == pytest.approx(-0.1)


def test_what_no_stock_holds_anything_of_has_no_source() -> None:
    parts = [*OIL_PARTS, {"material": "Oil", "part": "blue", "share": "nd"}]
    study = tiny([RED, OIL], compositions=parts, rows={"red": "60", "green": "39", "blue": "1"})
    assert no_source(study) == ["blue"]
    excluded = {"material": "Blue", "constituent": "blue", "purity": "90"}
    study = tiny(
        [RED, OIL, excluded], compositions=parts, rows={"red": "60", "blue": "1"}, limits={"exclude": ["Blue"]}
    )
    assert no_source(study) == ["blue"]


def test_check_data_counts() -> None:
    stale = {"material": "Old", "constituent": "green", "purity": "90", "opened": "2020-01-01", "keeps_months": "12"}
    study = tiny(
        [RED, OIL, CARRIER, stale],
        compositions=OIL_PARTS,
        rules=[RULE | {"members": "red; safrole"}],
        rows={"red": "60", "green": "39", "blue": "1"},
        shelf={"overdue": "exclude"},
        dilutions={"strengths": ["10 %"], "carrier": "dipropylene glycol"},
    )
    data = check_data(study)
    shelf = data["shelf"]
    assert (shelf["bottles"], shelf["pourable"]) == (4, 3)
    assert shelf["dilutions_possible"] == 2, "of Red and of Oil"
    assert [item["material"] for item in shelf["set_aside"]] == ["Old"]
    assert shelf["carriers"] == ["dipropylene glycol"]
    assert data["no_source"] == ["blue"]
    assert data["rules"][0]["absent"] == ["safrole"]
    text = check_text(study, 200)
    assert "Target     analysis: 3 rows, published sum 100.00 %, 0.00 % unaccounted for" in text
    assert "Shelf      4 bottles, 3 to pour from, 2 dilutions could be made, 0 foreign constituents" in text
    assert "Left out   Old (" in text
    assert "Carriers   dipropylene glycol" in text
    assert "           not on the shelf: safrole" in text
    assert "No source  blue" in text
    assert data["taken_pure"] == ["red"]
    assert "Pure       red as parts: the constituents, not the bottles of that name" in text
    assert "Pure" not in check_text(tiny(), 200)


def test_what_nothing_knows_is_listed_with_where_it_stands() -> None:
    parts = [*OIL_PARTS, {"material": "Oil", "part": "geraniol isomer", "share": "nd"}]
    unpoured = {"material": "Unpoured", "constituent": "violet", "purity": "100", "stock_g": "0"}
    study = tiny([RED, OIL, unpoured], compositions=parts, rows={"red": "60", "blue": "1", "linalool": "1"})
    assert check_data(study)["unknown"] == [
        {"constituent": "violet", "file": "bottles.csv", "row": 4, "where": []},
        {"constituent": "green", "file": "compositions.csv", "row": 3, "where": ["shelf"]},
        {"constituent": "geraniol isomer", "file": "compositions.csv", "row": 4, "where": []},
        {"constituent": "red", "file": "target.csv", "row": 2, "where": ["target", "shelf"]},
        {"constituent": "blue", "file": "target.csv", "row": 3, "where": ["target"]},
    ]
    names = "violet, green, geraniol isomer, red, blue"
    assert f"Not known  {names}: taken as constituents of their own" in check_text(study, 200)


def test_nothing_unknown_is_not_said() -> None:
    known = [RED | {"constituent": "linalool"}, GREEN | {"constituent": "geraniol"}]
    study = tiny(known, rows={"linalool": "60", "geraniol": "40"})
    text = check_text(study, 200)
    assert "Not known" not in text
    assert text.splitlines()[0].endswith("): no findings.")
    one = tiny([RED, GREEN | {"constituent": "geraniol"}], rows={"red": "60", "geraniol": "40"})
    assert "Not known  red: taken as a constituent of its own" in check_text(one, 200)


def test_checked_text_wraps_under_its_headings() -> None:
    lines = check_text(tiny(), 50).splitlines()
    assert lines[1:3] == ["Target     analysis: 2 rows, published sum 100.00", " " * 11 + "%, 0.00 % unaccounted for"]
    assert lines[0].endswith("): 1 warning, no errors.")
    assert lines[-2:] == ["Not known  red, green: taken as constituents of", " " * 11 + "their own"]
    assert max(map(len, lines)) <= 50
