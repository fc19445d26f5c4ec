"""What a label names: thresholds, isomers together, naturals by their label name, one more source over the line."""

from __future__ import annotations

import datetime
from pathlib import Path

import pandas as pd
import pytest

from reaccord.answer.judge import judge
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import Findings, InvalidInput
from reaccord.safety.declaration import SHIPPED, Declaration, declaration, read_list
from reaccord.study.load import study_from_frames
from reaccord.tables.read import read_declaration

PARTS = ("linalool", "geranial", "neral", "limonene")
TEXT = """
title = "label"
date = 2026-06-01
[target]
table = "target"
[shelf]
bottles = "bottles"
compositions = "compositions"
[batch]
accord_g = 10
[limits]
dosage = "1 %"
use = "USE"
"""


def study(use: str = "leave-on") -> Study:
    frames = {
        "target": pd.DataFrame({"constituent": ["linalool", "geranial"], "share": ["60", "40"]}),
        "bottles": pd.DataFrame(
            [
                {"material": "Linalool", "constituent": "linalool", "purity": "100", "label_name": "Linalool"},
                {"material": "Neral", "constituent": "neral", "purity": "100", "label_name": None},
                {"material": "Lavender-type oil", "label_name": "Lavandula Hybrida Oil"},
                {"material": "Leaf oil", "label_name": None},
                {"material": "House base", "label_name": None},
            ]
        ),
        "compositions": pd.DataFrame(
            [
                *(
                    {"material": "Lavender-type oil", "part": p, "share": s}
                    for p, s in (("linalool", "40"), ("geranial", "0.08"))
                ),
                *(
                    {"material": "Leaf oil", "part": p, "share": "20"}
                    for p in ("linalool", "geranial", "neral", "limonene")
                ),
                {"material": "House base", "part": "Lavender-type oil", "share": "50", "part_kind": "material"},
                {"material": "House base", "part": "Linalool", "share": "50", "part_kind": "material"},
            ]
        ),
    }
    return study_from_frames(TEXT.replace("USE", use), frames)


def declared(read: Study, **grams: float) -> Declaration:
    listed = read_declaration(SHIPPED, Findings())
    assert listed is not None
    amounts = {
        StockKey(name.replace("_", " ").replace("Lavender type", "Lavender-type"), 1.0, "", ""): g
        for name, g in grams.items()
    }
    return declaration(read, judge(read, amounts), *listed)


def shares(found: Declaration) -> dict[str, tuple[float, bool]]:
    return {entry.line.label_name: (entry.share, entry.listed) for entry in found.entries}


def test_isomers_of_one_entry_count_together_and_no_source_is_over_the_line_by_itself() -> None:
    """0.0008 % from the oil and 0.0004 % from the isolate: only together over 0.001 % (leave-on)."""
    read = study()
    alone = declared(read, Lavender_type_oil=1.0, Linalool=0.4)
    assert shares(alone)["Citral"] == (pytest.approx(0.01 * 0.0008 / (0.4 + 0.0008 + 0.4)), False)
    both = declared(read, Lavender_type_oil=1.0, Linalool=0.4, Neral=0.0004)
    (citral,) = (entry for entry in both.entries if entry.line.label_name == "Citral")
    assert citral.listed
    assert citral.sources == ("Lavender-type oil", "Neral")
    assert not shares(declared(study("rinse-off"), Lavender_type_oil=1.0, Linalool=0.4, Neral=0.0004))["Citral"][1]


def test_a_natural_is_found_by_its_label_name_inside_a_base_too() -> None:
    found = declared(study(), House_base=1.0)
    assert shares(found)["Lavandula Oil/Extract"][0] == pytest.approx(0.01 * 0.5 / (0.5 * 0.4008 + 0.5))
    assert found.unnamed == ()
    assert declared(study(), Leaf_oil=1.0).unnamed == ("Leaf oil",)


def test_what_is_new_on_the_list_says_from_when() -> None:
    found = {entry.line.label_name: entry for entry in declared(study(), House_base=1.0).entries}
    assert found["Lavandula Oil/Extract"].due(datetime.date(2026, 6, 1)) == datetime.date(2026, 7, 31)
    assert found["Lavandula Oil/Extract"].due(datetime.date(2026, 8, 1)) is None
    assert found["Linalool"].due(datetime.date(2026, 6, 1)) is None


def test_without_a_dosage_or_a_cosmetic_use_there_is_no_declaration() -> None:
    with pytest.raises(ValueError, match=r"limits\.use"):
        declared(study("not cosmetic"), Linalool=1.0)


def test_the_shipped_list_is_whole() -> None:
    """Thresholds and days of Regulation (EU) 2023/1545: 0.001 % stays on, 0.01 % rinsed off; 31 July 2026 and 2028."""
    found = read_declaration(SHIPPED, Findings())
    assert found is not None
    lines, file = found
    assert (len(lines), file.file) == (83, "declaration_eu.csv")
    kept = [line for line in lines if line.kind != "prohibited"]
    assert {(line.leave_on, line.rinse_off) for line in kept} == {(0.00001, 0.0001)}
    assert {(line.new_from, line.all_from) for line in lines} == {
        (None, None),
        (datetime.date(2026, 7, 31), datetime.date(2028, 7, 31)),
    }
    assert all(line.authority and line.edition and line.date for line in lines)
    assert all(line.begins for line in lines if line.kind == "natural")
    assert all(line.cas for line in lines)
    assert sorted(line.label_name for line in lines if line.kind == "prohibited") == [
        "Butylphenyl Methylpropional (BMHCA)",
        "Hydroxyisohexyl 3-Cyclohexene Carboxaldehyde (HICC)",
    ]


def test_a_threshold_that_nobody_states_is_asked_for(tmp_path: Path) -> None:
    """Blank is not taken as nought where products of the use need it; without a use either will do."""
    own = tmp_path / "own.csv"
    own.write_text("label_name,kind,leave_on,rinse_off\nCitral,substance,,\nGeraniol,substance,,0.1\nX,prohibited,,\n")
    for use, rows in ((None, [2]), ("rinse-off", [2]), ("leave-on", [2, 3]), ("not cosmetic", [2])):
        with pytest.raises(InvalidInput) as caught:
            read_list(own, use)
        assert [(error.code, error.place.row) for error in caught.value.errors] == [("blank", row) for row in rows]
    assert "a leave-on or rinse-off product name Citral? Write" in caught.value.errors[0].message
    assert "0 if any amount is named" in caught.value.errors[0].message
