"""The examples' answers stay what they were, up to what another processor may round otherwise."""

from __future__ import annotations

from typing import Any

import pytest
from tests.docs.expected import STORED, fitted, stored

STEP_G = 0.001
NOISE = 2.5 * STEP_G
"""Two steps of the balance, which the float may miss by a little."""
PER_BATCH = 2 * STEP_G / 10
"""What two steps can move a share of a 10 g accord."""


@pytest.mark.parametrize("study", STORED)
def test_the_stored_answer(study: str) -> None:
    real, before = fitted(study), stored(study)
    assert list(real) == list(before)
    for key in ("title", "date", "target", "rules", "cautions", "idle_materials", "inputs"):
        assert real[key] == before[key]
    check_formula(real["formula"], before["formula"])
    check_deviation(real["deviation"], before["deviation"])
    assert [name_of(row) for row in real["residuals"]] == [name_of(row) for row in before["residuals"]]
    for now, then in zip(real["residuals"], before["residuals"], strict=True):
        assert now["achieved"] == pytest.approx(then["achieved"], abs=PER_BATCH)
        assert now["target"] == pytest.approx(then["target"], rel=1e-9)
    assert [(row["label"], row["limit"]) for row in real["limits"]] == [
        (row["label"], row["limit"]) for row in before["limits"]
    ]
    assert real["totals"]["cost_per_kg"] == pytest.approx(before["totals"]["cost_per_kg"], rel=1e-3)


def name_of(row: dict[str, Any]) -> tuple[str, str]:
    return row["constituent"], row["kind"]


def check_formula(real: list[dict[str, Any]], before: list[dict[str, Any]]) -> None:
    keys = ("material", "strength", "carrier", "lot")
    assert [[line[key] for key in keys] for line in real] == [[line[key] for key in keys] for line in before]
    for now, then in zip(real, before, strict=True):
        assert now["grams"] == pytest.approx(then["grams"], abs=NOISE), now["material"]


def check_deviation(real: dict[str, Any], before: dict[str, Any]) -> None:
    assert real["value"] == pytest.approx(before["value"], rel=1e-6)
    assert real["before_rounding"] == pytest.approx(before["before_rounding"], rel=1e-6)
    assert real["misplaced_share"] == pytest.approx(before["misplaced_share"], abs=PER_BATCH)
    assert real["bound"] <= real["before_rounding"]
    assert real["gap"] <= 1e-3
    assert real["largest"]["constituent"] == before["largest"]["constituent"]
