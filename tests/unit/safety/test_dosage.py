"""Highest dosage, totals by source, what is not analysed, conditions on the raw material."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from reaccord.answer.fit import fit
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.report.dosage import Safety, dosage_text
from reaccord.safety.dosage import Dosage, Highest, dosage
from reaccord.study.changed import with_keys
from reaccord.study.load import study_from_frames

BOTTLES = [
    {"material": "Linalool", "constituent": "linalool", "purity": "100"},
    {"material": "Peel oil", "constituent": None, "purity": None},
    {"material": "Leaf oil", "constituent": None, "purity": None},
    {"material": "Carrier", "constituent": "dipropylene glycol", "purity": "100"},
]
PARTS = [
    {"material": "Peel oil", "part": "limonene", "share": "80", "high": None},
    {"material": "Peel oil", "part": "bergapten", "share": "0.2", "high": "0.3"},
    {"material": "Leaf oil", "part": "linalool", "share": "60", "high": None},
    {"material": "Leaf oil", "part": "bergapten", "share": "0.05", "high": None},
]
TEXT = """
title = "safety"
date = 2026-11-25
[target]
table = "target"
[shelf]
bottles = "bottles"
compositions = "compositions"
constituents = "constituents"
[batch]
accord_g = 10
[limits]
table = "limits"
product = "hand balm"
dosage = "1 %"
use = "leave-on"
"""


def read(
    *limits: dict[str, Any],
    constituents: list[dict[str, Any]] | None = None,
    parts: list[dict[str, Any]] = PARTS,
    **bottle: str,
) -> Study:
    """Return the study with these rules; `bottle` adds cells to the peel oil's row."""
    bottles = [row | (bottle if row["material"] == "Peel oil" else {}) for row in BOTTLES]
    frames = {
        "target": pd.DataFrame({"constituent": ["linalool", "limonene"], "share": ["50", "50"]}),
        "bottles": pd.DataFrame(bottles),
        "compositions": pd.DataFrame(parts),
        "constituents": pd.DataFrame(constituents or [{"constituent": "bergapten", "cas": "484-20-8"}]),
        "limits": pd.DataFrame([{"product": "hand balm", "kind": "each", **limit} for limit in limits]),
    }
    return study_from_frames(TEXT, frames)


def key(material: str, strength: float = 1.0, carrier: str = "") -> StockKey:
    return StockKey(material, strength, carrier, "")


def judged(study: Study, **grams: float) -> Dosage:
    return dosage(study, {key(name.replace("_", " ")): gram for name, gram in grams.items()})


def test_one_oil_alone_dosed_as_concentrate_at_its_own_limit_is_exactly_at_the_limit() -> None:
    """Common practice, no source: what a limit for an oil means."""
    study = read({"rule": "Peel", "members": "Peel oil", "max": "0.4"})
    found = judged(study, Peel_oil=5.0)
    (highest,) = found.highest
    assert found.masses.concentrate(highest.accord) == pytest.approx(0.004, rel=1e-12)
    assert found.masses.poured(highest.accord) == pytest.approx(0.004, rel=1e-12)
    assert highest.accord == pytest.approx(0.004 * 0.8, rel=1e-12)
    assert highest.rule == "Peel: Peel oil"


def test_the_upper_end_counts_and_sources_add_up() -> None:
    study = read({"rule": "Bergapten", "members": "bergapten", "max": "0.0015"})
    found = judged(study, Peel_oil=2.0, Leaf_oil=1.0)
    (total,) = found.totals
    accord = 2 * 0.8 + 1 * 0.6
    shares = {source.stock.key.material: source.share for source in total.sources}
    assert shares == pytest.approx({"Peel oil": 0.01 * 2 * 0.003 / accord, "Leaf oil": 0.01 * 0.0005 / accord})
    assert total.share == pytest.approx(sum(shares.values()))
    assert total.undeclared == pytest.approx(0.01 * (2 * 0.198 + 1 * 0.3995) / accord)
    assert not total.held or total.share <= 0.000015
    (highest,) = found.highest
    assert highest.accord * total.share / 0.01 == pytest.approx(0.000015, rel=1e-12)


def test_three_masses_are_told_apart_and_none_is_over_the_whole() -> None:
    found = dosage(
        read({"rule": "Safrole", "members": "safrole", "max": "1"}), {key("Peel oil"): 5.0, key("Carrier"): 5.0}
    )
    assert found.highest == (Highest("hand balm", pytest.approx(0.4), ""),)
    (highest,) = found.highest
    assert found.masses.concentrate(highest.accord) == pytest.approx(0.5)
    assert found.masses.poured(highest.accord) == pytest.approx(1.0)


def test_a_sum_counts_oils_together_and_a_ratio_their_parts() -> None:
    members = "Peel oil; Leaf oil"
    both = judged(read({"rule": "Oils", "members": members, "max": "0.4", "kind": "sum"}), Peel_oil=1.0, Leaf_oil=1.0)
    assert both.masses.concentrate(both.highest[0].accord) == pytest.approx(0.004)
    rows = [
        {"rule": "Oils", "members": m, "max": most, "kind": "ratio"}
        for m, most in (("Peel oil", "0.4"), ("Leaf oil", "0.8"))
    ]
    ratio = judged(read(*rows), Peel_oil=1.0, Leaf_oil=1.0)
    accord = ratio.highest[0].accord
    each = ratio.masses.concentrate(accord) / 2
    assert each / 0.004 + each / 0.008 == pytest.approx(1)


def test_what_is_prohibited_and_there_leaves_no_dosage() -> None:
    study = read({"rule": "None of it", "members": "bergapten", "max": None, "kind": "prohibited"})
    found = judged(study, Leaf_oil=1.0)
    assert found.highest == (Highest("hand balm", 0.0, "None of it: bergapten"),)
    assert not found.totals[0].held


def test_every_product_of_the_table_has_its_own() -> None:
    rows = [
        {"rule": "Limonene", "members": "limonene", "max": most, "product": p}
        for p, most in (("Hand balm", "1"), ("candle", "5"))
    ]
    found = judged(read(*rows, {"rule": "All", "members": "linalool", "max": "50", "product": "any"}), Peel_oil=1.0)
    assert [(each.product, round(each.accord, 9), each.rule) for each in found.highest] == [
        ("candle", 0.05, "Limonene"),
        ("Hand balm", 0.01, "Limonene"),
    ]


def test_known_to_occur_without_a_row_is_not_analysed_not_none() -> None:
    known = [
        {"constituent": "methyl eugenol", "cas": None, "carries": "leaf oil; Peel oil"},
        {"constituent": "bergapten", "carries": "Leaf oil"},
    ]
    rules = (
        {"rule": "Methyl eugenol", "members": "methyl eugenol", "max": "0.01"},
        {"rule": "Bergapten", "members": "bergapten", "max": "1"},
    )
    found = judged(read(*rules, constituents=known), Leaf_oil=1.0, Linalool=1.0)
    absent = {total.claim.label: total.absent for total in found.totals}
    assert absent == {"Methyl eugenol": (("methyl eugenol", "Leaf oil"),), "Bergapten": ()}
    assert found.highest[0].absent == (("methyl eugenol", "Leaf oil"),)
    told = dosage_text(Safety(found, None), 200)
    assert "(not counting methyl eugenol in Leaf oil: not analysed)" in told.split("\n\n")[0]
    assert told.count("Not analysed, which is not none") == 1


def test_what_may_be_without_a_name_is_what_the_low_ends_leave() -> None:
    """Of the oil's limonene 70 to 90 % is printed, of bergapten 0.2 to 0.4, 0.3 between: all else can be unnamed."""
    parts = [
        {"material": "Peel oil", "part": "limonene", "share": "80", "low": "70", "high": "90"},
        {"material": "Peel oil", "part": "bergapten", "share": "0.2-0.4", "low": None, "high": None},
        {"material": "Leaf oil", "part": "Peel oil", "share": "50", "low": None, "high": None},
        {"material": "Leaf oil", "part": "linalool", "share": "tr", "low": None, "high": None},
    ]
    study = read({"rule": "Bergapten", "members": "bergapten", "max": "1"}, parts=parts)
    held = {stock.key.material: stock.content for stock in study.stocks}
    assert held["Peel oil"].undeclared == pytest.approx(1 - 0.8 - 0.003)
    assert held["Peel oil"].undeclared_high == pytest.approx(1 - 0.7 - 0.002)
    assert held["Leaf oil"].undeclared_high == pytest.approx(1 - 0.5 * (0.7 + 0.002))
    (total,) = judged(study, Peel_oil=1.0, Leaf_oil=1.0).totals
    accord = 0.8 + 0.4 + 0.00025
    assert total.undeclared == pytest.approx(0.01 * (0.298 + 0.649) / accord)


def test_an_uncertified_bottle_hides_nothing_that_is_not_analysed() -> None:
    known = [{"constituent": "methyl eugenol", "cas": None, "carries": "Peel oil"}]
    rules = (
        {"rule": "Peroxides", "members": "Peel oil", "max": None, "condition": "peroxide value under 20"},
        {"rule": "Methyl eugenol", "members": "methyl eugenol", "max": "0.01"},
    )
    found = judged(read(*rules, constituents=known), Peel_oil=1.0)
    assert found.highest[0].absent == (("methyl eugenol", "Peel oil"),)
    assert "not analysed: methyl eugenol in Peel oil" in dosage_text(Safety(found, None), 200)


def test_a_rule_for_any_product_alone_has_a_verdict_of_its_own() -> None:
    rule = {"rule": "Limonene", "members": "limonene", "max": "1", "product": "any"}
    study = with_keys(read(rule), "limits", product="")
    told = dosage_text(Safety(judged(study, Peel_oil=1.0), None), 200)
    assert "at most 1 % of accord in any product: Limonene decides" in told


def test_what_is_a_little_over_does_not_look_as_if_it_were_not() -> None:
    rule = {"rule": "Limonene", "members": "limonene", "max": "0.999999"}
    told = dosage_text(Safety(judged(read(rule), Peel_oil=1.0), None), 200)
    assert "it breaks Limonene" in told
    (row,) = (line.split() for line in told.splitlines() if line.startswith("Limonene"))
    assert row[1] != row[2]


def test_what_is_not_analysed_counts_among_what_has_no_name() -> None:
    known = [{"constituent": "methyl eugenol", "cas": None, "carries": "Leaf oil"}]
    rule = {"rule": "Methyl eugenol", "members": "methyl eugenol", "max": "0.01"}
    found = judged(read(rule, constituents=known), Leaf_oil=1.0, Peel_oil=1.0)
    (total,) = found.totals
    assert (total.share, total.sources) == (0, ())
    assert total.undeclared == pytest.approx(0.01 * 0.3995 / (0.6 + 0.8))


def test_a_bottle_without_the_certificate_that_a_rule_asks_for_is_left_out_and_named() -> None:
    rule = {
        "rule": "Peroxides",
        "members": "limonene",
        "product": "any",
        "max": None,
        "condition": "peroxide value under 20",
    }
    study = read(rule, constituents=[{"constituent": "safrole", "cas": None}])
    assert [(item.stock.key.material, item.reason) for item in study.set_aside] == [
        ("Peel oil", "not certified: peroxide value under 20")
    ]
    (said,) = (w for w in study.warnings if w.code == "condition")
    assert "Peel oil is left out until its certificate says so" in said.message
    assert said.place.column == "conditions_met"
    assert all(k.material != "Peel oil" for k in fit(study).amounts)
    found = judged(study, Peel_oil=1.0, Linalool=1.0)
    assert found.highest[0].accord == 0
    assert "not certified" in found.highest[0].rule
    assert found.broken == ("Peroxides: Peel oil is not certified (peroxide value under 20)",)
    verdict = dosage_text(Safety(found, None), 200).split("\n\n")[0]
    assert "none of it may go into any product: Peroxides: Peel oil is not certified" in verdict
    assert "holds" not in verdict
    met = read(rule, conditions_met="Peroxide value under 20; furocoumarin-free")
    assert met.set_aside == ()
    assert met.rules == ()  # it limits no share
    assert judged(met, Peel_oil=1.0).highest[0].rule == ""
