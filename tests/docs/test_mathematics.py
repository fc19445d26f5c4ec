"""The page of definitions against the code: no name of the schema is missing, and its example comes out as it says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import get_args

import pytest
from tests.tiny_study import GREEN, RED, tiny

from reaccord.answer.judge import empty_vial, judge
from reaccord.domain.limit_key import LimitKind
from reaccord.manual import pages
from reaccord.study.smallest_mass import EXPANSION, REPEATABILITY_FLOOR
from reaccord.tables.columns import TABLES
from reaccord.tables.studyfile import SECTIONS

PAGE = pages.page("mathematics")


def section(heading: str) -> str:
    return PAGE.partition(f"\n## {heading}\n")[2].partition("\n## ")[0]


def first_cells(heading: str) -> Iterator[str]:
    for line in section(heading).splitlines():
        if line.startswith("| `"):
            yield from re.findall(r"`([^`]+)`", line.split(" | ")[0])


def test_every_limit_is_defined_and_no_other() -> None:
    """`made` is no limit of its own: it says what the grams made of a dilution are."""
    assert sorted(first_cells("Limits")) == sorted(set(get_args(LimitKind)) - {"made"})


def test_every_measure_and_scale_is_defined() -> None:
    defined = list(first_cells("Objective"))
    fit = SECTIONS["fit"]
    assert sorted(defined) == sorted((*fit["measure"].choices, *fit["scale"].choices))


def test_every_kind_of_rule_and_every_key_that_changes_a_figure_stands_there() -> None:
    (kind,) = (column for column in TABLES["limits"] if column.name == "kind")
    words = set(re.findall(r"`([^`]+)`", PAGE))
    assert set(kind.choices) <= words
    for key in (
        "floor",
        "foreign_floor",
        "shorten",
        "accord_g",
        "carrier_max_g",
        "cost_per_kg",
        "undeclared",
        "dosage",
    ):
        assert any(key in word for word in words), key


def test_the_example_by_hand_is_what_the_judge_finds() -> None:
    study = tiny([RED, GREEN])
    judged = judge(study, {stock.key: 5.0 for stock in study.stocks})
    words = " ".join(PAGE.split())
    (value,) = re.findall(r"the deviation is 0\.1 x 0\.1 / 0\.6 \+ 0\.1 x 0\.1 / 0\.4 = ([\d.]+)\. ", words)
    (wrong,) = re.findall(r"In the example: half of 0\.1 \+ 0\.1, (\d+) %", words)
    assert judged.closeness.value == pytest.approx(float(value), abs=5e-7)
    assert judged.closeness.misplaced_share * 100 == pytest.approx(float(wrong))
    assert empty_vial(study) == pytest.approx(1.0), "as the page says"


def test_figures_of_the_balance_are_those_of_the_code() -> None:
    assert f"{EXPANSION:g} x max(`repeatability_g`, {REPEATABILITY_FLOOR:g} x `readability_g`) / `tolerance`" in PAGE
