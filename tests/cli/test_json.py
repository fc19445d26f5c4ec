"""The JSON that scripts read: stdout holds it and nothing else, also when something failed."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.process import EXAMPLE, Ended, reaccord, reaccord_process

STUDY = EXAMPLE / "study.toml"
COMMON = {"formula", "target", "totals", "deviation", "notes", "residuals", "why", "limits", "inputs"}
MORE = {"title", "date", "rules", "cautions"}
FORMULA = {"material", "strength", "carrier", "lot", "grams", "share", "cost"}
TOTALS = {
    "accord_g",
    "named_g",
    "foreign_g",
    "undeclared_g",
    "carrier_g",
    "total_g",
    "cost",
    "cost_per_kg",
    "cost_per_kg_concentrate",
    "unpriced_lines",
}
DEVIATION = {"measure", "scale", "value", "misplaced_share", "coverage", "largest", "empty_vial"}
RESIDUAL = {"constituent", "target", "low", "high", "achieved", "residual", "scaled", "reason", "sources"}


def check_common(data: dict, own: set[str], deviation: set[str]) -> None:
    assert set(data) == COMMON | MORE | own
    assert all(set(line) == FORMULA for line in data["formula"])
    assert set(data["target"]) == {"samples", "rest", "published_sum", "unaccounted"}
    assert set(data["totals"]) == TOTALS
    assert set(data["deviation"]) == DEVIATION | deviation
    assert set(data["deviation"]["largest"]) == {"constituent", "residual"}
    assert all(set(row) == RESIDUAL | {"kind"} for row in data["residuals"])
    assert all(set(row) == {"constituent", "code", "sentence", "gain"} for row in data["why"])
    assert {row["constituent"]: row["sentence"] for row in data["why"]} == {
        row["constituent"]: row["reason"] for row in data["residuals"] if row["reason"]
    }
    assert {key for row in data["residuals"] for s in row["sources"] for key in s} == {"material", "share"}
    assert all(
        {"label", "kind", "subject", "value", "limit", "binding", "holds_back"} <= set(row) for row in data["limits"]
    )
    assert all(set(item) == {"file", "sha256"} and len(item["sha256"]) == 64 for item in data["inputs"])


def test_fit_has_the_keys_of_the_interface(fitted: Ended) -> None:
    envelope = fitted.json
    assert (fitted.code, envelope["exit_code"], envelope["status"], envelope["command"]) == (0, 0, "proven", "fit")
    assert envelope["errors"] == []
    data = envelope["data"]
    check_common(data, {"solver"}, {"before_rounding", "bound", "gap", "rounded_bound", "steps_proven", "shortened"})
    assert set(data["solver"]) == {"name", "version", "seconds", "nodes"}


def test_figures_agree_with_each_other(fitted: Ended) -> None:
    data = fitted.json["data"]
    totals, deviation = data["totals"], data["deviation"]
    assert math.fsum(line["share"] for line in data["formula"]) == pytest.approx(1)
    assert math.fsum(line["grams"] for line in data["formula"]) == pytest.approx(totals["total_g"])
    parts = ("named_g", "foreign_g", "undeclared_g", "carrier_g")
    assert math.fsum(totals[part] for part in parts) == pytest.approx(totals["total_g"])
    assert totals["cost_per_kg"] == pytest.approx(1000 * totals["cost"] / totals["accord_g"])
    no_carrier = totals["total_g"] - totals["carrier_g"]
    assert totals["cost_per_kg_concentrate"] == pytest.approx(1000 * totals["cost"] / no_carrier)
    assert math.fsum(row["scaled"] ** 2 for row in data["residuals"]) == pytest.approx(deviation["value"])
    assert 0 <= deviation["gap"] <= 1e-3
    assert deviation["bound"] <= deviation["before_rounding"]
    assert {row["kind"] for row in data["residuals"]} == {"named", "foreign", "undeclared"}
    for line in data["formula"]:
        assert line["grams"] == round(line["grams"], 3), "a decimal of the balance, not a float beside it"


def test_warnings_are_in_the_envelope(fitted: Ended) -> None:
    (warning,) = fitted.json["warnings"]
    assert (warning["file"], warning["row"], warning["column"]) == ("bottles.csv", 20, "opened")


def test_json_leaves_stderr_empty(fitted: Ended) -> None:
    assert fitted.err == ""


def test_compare_has_no_solver() -> None:
    ended = reaccord("compare", STUDY, EXAMPLE / "formula_2025.csv", "--output=json")
    envelope = ended.json
    assert (ended.code, envelope["status"], envelope["exit_code"]) == (0, "done", 0)
    check_common(envelope["data"], set(), set())
    assert {item["file"] for item in envelope["data"]["inputs"]} >= {"study.toml", "formula_2025.csv"}


@pytest.mark.parametrize(
    ("words", "command"),
    [
        (("fit", STUDY, "--nonsense"), "fit"),
        (("fit",), "fit"),
        (("fti", STUDY), "fti"),
        (("fit", STUDY, "--seconds", "soon"), "fit"),
        (("fit", STUDY, "--out", EXAMPLE), "fit"),
        (("new", EXAMPLE), "new"),
    ],
)
def test_usage_errors_as_json(words: tuple, command: str) -> None:
    ended = reaccord(*words, "--output", "json")
    envelope = ended.json
    assert (ended.code, envelope["exit_code"], envelope["status"]) == (2, 2, "invalid_input")
    assert (envelope["command"], envelope["data"], len(envelope["errors"])) == (command, {}, 1)
    assert envelope["errors"][0]["code"] == "usage"
    assert envelope["errors"][0]["message"]


def test_an_option_before_the_command_keeps_the_command() -> None:
    ended = reaccord("--output", "json", "fit", STUDY)
    assert (ended.code, ended.json["command"]) == (2, "fit")


def test_every_finding_at_once(changed: Callable[[str, str], Path]) -> None:
    study = changed('exclude = ["Citronella oil"]', 'exclude = ["Citronela oil"]')
    bottles = study.parent / "bottles.csv"
    text = bottles.read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("Geraniol 97"))
    assert ",34," in line
    bottles.write_text(text.replace(line, line.replace(",34,", ',"1,340",')), encoding="utf-8")
    row = text.splitlines().index(line) + 1
    ended = reaccord("fit", study, "--output", "json")
    envelope = ended.json
    assert (ended.code, envelope["status"], envelope["exit_code"]) == (3, "invalid_input", 3)
    places = {(e["file"], e["row"], e["column"]) for e in envelope["errors"]}
    assert places >= {("bottles.csv", row, "price_per_kg"), ("study.toml", None, "limits.exclude")}
    sentences = " ".join(e["message"] for e in envelope["errors"])
    assert 'Did you mean "Citronella oil"?' in sentences
    assert "may be 1.340 or 1340: write which of them" in sentences

    told = reaccord("fit", study)
    assert (told.code, told.out) == (3, "")
    assert f"bottles.csv, row {row}, column price_per_kg: " in told.err
    assert told.err.rstrip().endswith("findings, nothing was solved.")


def test_check_tells_how_the_study_was_taken() -> None:
    ended = reaccord("check", STUDY, "--output", "json")
    assert (ended.code, ended.json["status"]) == (0, "done")
    data = ended.json["data"]
    assert data["shelf"]["bottles"] == 49
    assert data["shelf"]["set_aside"] == [{"material": "Citronella oil (CT-06)", "reason": "excluded"}]


def test_a_result_that_is_no_number_is_refused() -> None:
    from reaccord.cli.result import envelope

    with pytest.raises(ValueError, match="JSON"):
        envelope("fit", "proven", 0, {"value": float("nan")}, ((), ()))


def test_names_in_any_script_come_out_as_they_are(changed: Callable[[str, str], Path]) -> None:
    study = changed('title = "Garden geranium, lot G7"', 'title = "Géranium α 天竺葵"')
    for env in ({"PYTHONIOENCODING": "ascii"}, {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}):
        ended = reaccord_process("check", study, "--output", "json", env=env)
        assert ended.json["data"]["title"] == "Géranium α 天竺葵"
        assert reaccord_process("check", study, env=env).out.startswith("Géranium α 天竺葵")


def test_a_formula_alone_solves_for_nothing_beside_it(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> None:
        raise AssertionError("nobody asked")

    monkeypatch.setattr("reaccord.answer.fitted.let_go", refused)
    monkeypatch.setattr("reaccord.answer.fitted.bound_on_grid", refused)
    assert reaccord("fit", STUDY, "--output", "csv").out.startswith("material,")
    assert reaccord("fit", STUDY).code == 1
