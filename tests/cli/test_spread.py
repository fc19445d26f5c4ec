"""`spread`: text, JSON, CSV, seeds, what it refuses."""

from __future__ import annotations

import csv
import io

import pytest
from tests.cli.process import EXAMPLE, FAST, reaccord

STUDY, FORMULA = EXAMPLE / "study.toml", EXAMPLE / "formula_2025.csv"
GIVEN = ("--formula", FORMULA, "--draws", "500")


def test_json_has_the_keys_of_the_interface() -> None:
    ended = reaccord("spread", STUDY, *GIVEN, "--seed", "4", "--output", "json")
    found = ended.json
    assert (ended.code, found["status"], found["command"]) == (0, "done", "spread")
    data = found["data"]
    assert {"draws", "seed", "residuals", "broken", "nominal", "robust", "expected", "inputs"} <= set(data)
    assert (data["draws"], data["seed"], data["nominal"], data["robust"]) == (500, 4, None, None)
    for row in data["residuals"]:
        assert set(row) == {"constituent", "kind", "nominal", "q05", "q50", "q95"}
        assert row["q05"] <= row["q50"] <= row["q95"]
    assert all(set(row) == {"limit", "kind", "subject", "share_of_draws"} for row in data["broken"])
    assert data["mean"] == pytest.approx(data["expected"], abs=5 * data["standard_error"])


def test_the_same_seed_the_same_figures() -> None:
    first, again = (reaccord("spread", STUDY, *GIVEN, "--output", "json").json["data"] for _ in range(2))
    assert first == again
    assert reaccord("spread", STUDY, *GIVEN, "--seed", "2", "--output", "json").json["data"]["mean"] != first["mean"]


def test_csv_is_one_row_a_constituent() -> None:
    ended = reaccord("spread", STUDY, *GIVEN, "--output", "csv", "--quiet")
    rows = {row["constituent"]: row for row in csv.DictReader(io.StringIO(ended.out))}
    assert float(rows["geraniol"]["q95"].removesuffix(" %")) > float(rows["geraniol"]["q05"].removesuffix(" %"))


def test_robust_is_solved_and_compared() -> None:
    ended = reaccord("spread", STUDY, "--draws", "500", "--robust", "--hold", "95 %", *FAST, "--output", "json")
    data = ended.json["data"]
    assert ended.code == 0
    assert data["robust"]["expected"] < data["nominal"]["expected"]
    assert data["robust"]["hold"] == 0.95
    assert max(row["share_of_draws"] for row in data["robust"]["broken"]) < 0.1
    assert {row["limit"] for row in data["robust"]["broken"]} >= {"Geraniol", "cost"}


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--draws", "0"), '--draws takes a whole number of at least 1, not "0".'),
        (("--draws", "1e4"), '--draws takes a whole number of at least 1, not "1e4".'),
        (("--seed", "1.5"), '--seed takes a whole number of at least 0, not "1.5".'),
        (("--seed", "-1"), "--seed"),
        (("--hold", "95 %"), "it needs --robust"),
        (("--robust", "--hold", "95"), "needs its sign"),
        (("--robust", "--hold", "20 %"), "from 50 % to 100 %"),
        (("--draws", "1000000000"), "--draws can be at most"),
    ],
)
def test_usage(words: tuple[str, ...], message: str) -> None:
    ended = reaccord("spread", STUDY, "--formula", FORMULA, *words, "--quiet")
    assert (ended.code, ended.out) == (2, "")
    assert message in ended.err


def test_text_names_the_limits_that_break() -> None:
    ended = reaccord("spread", EXAMPLE.parent / "flower" / "study.toml", "--draws", "300", "--quiet")
    assert ended.code == 0
    assert "broken in % of draws" in ended.out
    assert "None of" not in ended.out
