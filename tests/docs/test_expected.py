"""The examples' answers stay what they were, up to what another processor may round otherwise."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from tests.docs.expected import SAME, STORED, fitted, stored
from tests.docs.papers import ROOT

EXAMPLES = ROOT / "examples"
TWO_STEPS = 2.5
"""Two steps of the balance, which the float may miss by a little."""


def settings(study: str) -> dict[str, Any]:
    return tomllib.loads((EXAMPLES / study).read_text(encoding="utf-8"))


def readability(study: str) -> float:
    found: float = settings(study)["balance"]["readability_g"]
    return found


def per_batch(study: str) -> float:
    """Return what two steps can move a share of the accord."""
    batch: float = settings(study)["batch"]["accord_g"]
    return 2 * readability(study) / batch


def test_every_study_has_its_answer() -> None:
    """`fitted` fails on any answer that is not proven, so that every study here is proven as well."""
    files = {path.relative_to(EXAMPLES).as_posix() for path in EXAMPLES.glob("*/*.toml")}
    assert files == STORED.keys() | SAME.keys()
    on_disk = {path.relative_to(EXAMPLES).as_posix() for path in EXAMPLES.glob("*/expected*.json")}
    assert on_disk == set(STORED.values())


@pytest.mark.parametrize("study", SAME)
def test_the_same_answer_from_another_form(study: str) -> None:
    real, before = fitted(study), stored(SAME[study])
    assert {name.split("#")[0] for name in real.pop("inputs")} == {Path(study).name, "citrus.xlsx"}
    assert before.pop("inputs")
    check_answer(study, real, before)


def test_the_workbook_holds_the_tables() -> None:
    """Cell by cell: purities are percent-formatted there, dates are dates, numbers are numbers."""
    book = load_workbook(EXAMPLES / "citrus" / "citrus.xlsx")
    assert book.sheetnames == ["target", "bottles", "compositions", "limits"]
    for sheet in book.worksheets:
        with (EXAMPLES / "citrus" / f"{sheet.title}.csv").open(encoding="utf-8", newline="") as stream:
            head, *table = list(csv.reader(stream))
        assert [cell.value for cell in sheet[1]] == head
        assert sheet.max_row == len(table) + 1
        for cells, texts in zip(sheet.iter_rows(min_row=2), table, strict=True):
            for name, cell, text in zip(head, cells, texts, strict=True):
                assert in_csv(name, cell.value) == (text if not is_number(text) else float(text)), cell.coordinate
            if "purity" in head and texts[head.index("purity")]:
                assert cells[head.index("purity")].number_format == "0 %"


def is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()


def in_csv(column: str, value: Any) -> str | float:
    """Return a cell as the CSV holds it."""
    if value is None:
        return ""
    if isinstance(value, int | float):
        return round(float(value) * 100, 9) if column == "purity" else float(value)
    if isinstance(value, str):
        return float(value) if is_number(value) else value
    return str(value.date().isoformat())


@pytest.mark.parametrize("study", STORED)
def test_the_stored_answer(study: str) -> None:
    real, before = fitted(study), stored(study)
    assert real.pop("inputs") == before.pop("inputs")
    check_answer(study, real, before)


def check_answer(study: str, real: dict[str, Any], before: dict[str, Any]) -> None:
    assert list(real) == list(before)
    for key in ("title", "date", "target", "rules", "cautions"):
        assert real[key] == before[key]
    check_formula(real["formula"], before["formula"], TWO_STEPS * readability(study))
    check_deviation(real["deviation"], before["deviation"], per_batch(study))
    assert [name_of(row) for row in real["residuals"]] == [name_of(row) for row in before["residuals"]]
    for now, then in zip(real["residuals"], before["residuals"], strict=True):
        assert now["achieved"] == pytest.approx(then["achieved"], abs=per_batch(study))
        assert now["target"] == pytest.approx(then["target"], rel=1e-9)
    assert [(row["label"], row["limit"]) for row in real["limits"]] == [
        (row["label"], row["limit"]) for row in before["limits"]
    ]
    assert real["totals"]["cost_per_kg"] == pytest.approx(before["totals"]["cost_per_kg"], rel=1e-3)


def name_of(row: dict[str, Any]) -> tuple[str, str]:
    return row["constituent"], row["kind"]


def check_formula(real: list[dict[str, Any]], before: list[dict[str, Any]], noise_g: float) -> None:
    keys = ("material", "strength", "carrier", "lot")
    assert [[line[key] for key in keys] for line in real] == [[line[key] for key in keys] for line in before]
    for now, then in zip(real, before, strict=True):
        assert now["grams"] == pytest.approx(then["grams"], abs=noise_g), now["material"]


def check_deviation(real: dict[str, Any], before: dict[str, Any], noise: float) -> None:
    assert real["value"] == pytest.approx(before["value"], rel=1e-6)
    assert real["before_rounding"] == pytest.approx(before["before_rounding"], rel=1e-6)
    assert real["misplaced_share"] == pytest.approx(before["misplaced_share"], abs=noise)
    assert real["bound"] <= real["before_rounding"]
    assert real["gap"] <= 1e-3
    assert real["largest"]["constituent"] == before["largest"]["constituent"]
