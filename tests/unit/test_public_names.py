"""The library as it is promised: what is imported, frames in, frames out, which errors."""

from __future__ import annotations

import datetime
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from tests.tiny_study import GREEN, RED, tiny

import reaccord

GERANIUM = Path(__file__).parents[2] / "examples" / "geranium"
SETTINGS = """
date = 2026-11-25
[target]
table = "target.csv"
[shelf]
bottles = "bottles.csv"
compositions = "compositions.csv"
[batch]
accord_g = 10
[balance]
readability_g = 0.01
minimum_g = 0.02
"""


def geranium_frames() -> dict[str, pd.DataFrame]:
    """Return the tables of the example as a notebook would hold them: numbers, dates, truth values, NaN."""
    names = ("target", "bottles", "compositions", "constituents", "limits")
    frames = {f"{name}.csv": pd.read_csv(GERANIUM / f"{name}.csv") for name in names}
    bottles = frames["bottles.csv"]
    bottles["opened"] = pd.to_datetime(bottles["opened"])
    bottles["solid"] = bottles["solid"] == "yes"
    assert bottles["price_per_kg"].dtype == np.float64
    assert bottles["solid"].dtype == np.bool_
    assert bottles["minimum_g"].isna().any()
    return frames


def small_frames(**changes: Any) -> dict[str, pd.DataFrame]:
    """Return three tables (invented); `changes` are further columns of the bottles."""
    bottles = {"material": ["Red", "Oil"], "constituent": ["red", None], "purity": [99.5, np.nan]}
    return {
        "target.csv": pd.DataFrame({"constituent": ["red", "green"], "analysis": [60, 40.0]}),
        "bottles.csv": pd.DataFrame(bottles | changes),
        "compositions.csv": pd.DataFrame({"material": ["Oil", "Oil"], "part": ["green", "rain"], "share": [90, 1e-05]}),
    }


def test_every_public_name_can_be_imported_and_nothing_else_is_promised() -> None:
    for name in reaccord.__all__:
        assert getattr(reaccord, name).__name__ == name
    assert {"load_study", "Study", "fit", "Fit", "Budget"} <= set(reaccord.__all__)
    assert isinstance(reaccord.__version__, str)
    with pytest.raises(AttributeError, match="formulate"):
        _ = reaccord.formulate  # type: ignore[attr-defined]


def test_frames_give_the_same_study_and_the_same_answer_as_the_files() -> None:
    text = (GERANIUM / "study.toml").read_text(encoding="utf-8")
    by_files = reaccord.load_study(GERANIUM / "study.toml")
    by_frames = reaccord.study_from_frames(text, geranium_frames())
    for part in ("title", "date", "target", "stocks", "rules", "amounts", "carriers", "constituents", "set_aside"):
        assert getattr(by_frames, part) == getattr(by_files, part), part
    assert by_frames.settings == replace(by_files.settings, file=by_frames.settings.file)
    assert [str(finding) for finding in by_frames.warnings] == [str(finding) for finding in by_files.warnings]
    found = reaccord.fit(by_frames)
    stored = json.loads((GERANIUM / "expected.json").read_text(encoding="utf-8"))
    assert found.formula[["material", "lot", "grams"]].to_dict("records") == [
        {key: line[key] for key in ("material", "lot", "grams")} for line in stored["formula"]
    ]
    assert found.judged.closeness.value == pytest.approx(stored["deviation"]["value"], rel=1e-9)


def test_a_fit_gives_frames() -> None:
    found = reaccord.fit(tiny([RED, GREEN], balance={"readability_g": 0.01, "minimum_g": 0.02}))
    assert isinstance(found, reaccord.Fit)
    assert isinstance(found.judged, reaccord.Judgement)
    formula, residuals = found.formula, found.residuals
    assert list(formula) == ["material", "strength", "carrier", "lot", "grams", "share", "cost"]
    assert formula["material"].tolist() == ["Green", "Red"]
    assert formula["grams"].tolist() == [4.0, 6.0]
    assert formula["share"].sum() == pytest.approx(1)
    assert formula["cost"].tolist() == pytest.approx([0.2, 0.06])
    assert list(residuals) == [
        "constituent", "kind", "target", "low", "high", "achieved", "residual", "scaled", "reason",
    ]  # fmt: skip
    by_name = residuals.set_index("constituent")
    assert by_name.loc["red", "achieved"] == pytest.approx(0.6)
    assert "undeclared" in by_name.index
    assert {key.material: grams for key, grams in found.amounts.items()} == {"Green": 4.0, "Red": 6.0}
    assert {key.material: grams for key, grams in found.unrounded.items()} == pytest.approx({"Green": 4.0, "Red": 6.0})
    assert 0 <= found.bound <= found.judged_before.closeness.value
    assert found.gap == 0.0


@pytest.mark.parametrize(
    "opened",
    [
        datetime.date(2026, 1, 2),
        datetime.datetime(2026, 1, 2),
        pd.Timestamp("2026-01-02"),
        np.datetime64("2026-01-02"),
        "2026-01-02",
    ],
    ids=lambda value: type(value).__name__,
)
def test_dates_of_every_kind(opened: Any) -> None:
    made = reaccord.study_from_frames(SETTINGS, small_frames(opened=[opened, None], keeps_months=[36, np.nan]))
    assert [line.opened for line in made.tables.bottles] == [datetime.date(2026, 1, 2), None]
    assert [line.keeps_months for line in made.tables.bottles] == [36, None]


@pytest.mark.parametrize("solid", [[True, False], [np.True_, np.False_], ["yes", "no"], ["yes", None], [True, pd.NA]])
def test_truth_values_of_every_kind(solid: list[Any]) -> None:
    made = reaccord.study_from_frames(SETTINGS, small_frames(solid=solid))
    assert [bool(line.solid) for line in made.tables.bottles] == [True, False]


@pytest.mark.parametrize("blank", [None, np.nan, pd.NA, pd.NaT, "", "  "], ids=repr)
def test_every_missing_value_is_a_blank(blank: Any) -> None:
    made = reaccord.study_from_frames(SETTINGS, small_frames(stock_g=[blank, 5], price_per_kg=[12.5, blank]))
    assert [line.stock_g for line in made.tables.bottles] == [None, 5.0]
    assert [line.price_per_kg for line in made.tables.bottles] == [12.5, None]


def test_numbers_are_read_as_they_are() -> None:
    made = reaccord.study_from_frames(SETTINGS, small_frames())
    assert [line.share.number for line in made.tables.compositions] == pytest.approx([0.9, 1e-7])
    assert made.tables.bottles[0].purity == pytest.approx(0.995)
    assert reaccord.study_from_frames(SETTINGS, {name: f.astype(object) for name, f in small_frames().items()})


def test_the_index_of_a_frame_is_nobodys_business() -> None:
    frames = small_frames()
    moved = {name: frame.set_axis([f"x{i}" for i in range(len(frame))]) for name, frame in frames.items()}
    one, other = reaccord.study_from_frames(SETTINGS, frames), reaccord.study_from_frames(SETTINGS, moved)
    assert (one.stocks, one.target) == (other.stocks, other.target)


def test_what_is_wrong_in_frames_is_told_at_once_and_by_row() -> None:
    frames = small_frames(price_per_kg=[-3.0, np.inf])
    frames["target.csv"].loc[1, "analysis"] = np.nan
    with pytest.raises(reaccord.InvalidInput) as caught:
        reaccord.study_from_frames(SETTINGS, frames)
    assert isinstance(caught.value, reaccord.ReaccordError)
    assert all(isinstance(finding, reaccord.Finding) for finding in caught.value.errors)
    assert sorted((f.place.file, f.place.row, f.place.column) for f in caught.value.errors) == [
        ("bottles.csv", 2, "price_per_kg"),
        ("bottles.csv", 3, "price_per_kg"),
        ("target.csv", 3, "analysis"),
    ]


def test_a_missing_frame_and_a_missing_file(tmp_path: Path) -> None:
    frames = small_frames()
    del frames["compositions.csv"]
    with pytest.raises(reaccord.InvalidInput, match=r"compositions\.csv"):
        reaccord.study_from_frames(SETTINGS, frames)
    with pytest.raises(reaccord.InvalidInput, match="no such file"):
        reaccord.load_study(tmp_path / "study.toml")


def test_errors_say_what_kind_of_end_it_was() -> None:
    kinds = {reaccord.InvalidInput: 3, reaccord.NoFormula: 4, reaccord.NoAnswer: 6}
    for kind, code in kinds.items():
        assert issubclass(kind, reaccord.ReaccordError)
        assert kind.exit_code == code
    with pytest.raises(reaccord.NoFormula) as caught:
        reaccord.fit(tiny(limits={"cost_per_kg": 5}))
    assert isinstance(caught.value, reaccord.ReaccordError)
    with pytest.raises(reaccord.NoAnswer):
        reaccord.fit(tiny(fit={"measure": "absolute"}), reaccord.Budget(stop=lambda: True))


def test_a_judgement_of_amounts_of_ones_own() -> None:
    study = tiny([RED, GREEN])
    keys = {stock.key.material: stock.key for stock in study.stocks}
    judged = reaccord.judge(study, {keys["Red"]: 5.0, keys["Green"]: 5.0})
    assert isinstance(judged, reaccord.Judgement)
    assert judged.totals.total_g == pytest.approx(10)
    # by hand: 0.1 off in both, each over its share (proportional)
    assert judged.closeness.value == pytest.approx(0.1**2 / 0.6 + 0.1**2 / 0.4)
