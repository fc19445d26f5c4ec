"""`reaccord compare`: a given formula, judged the same way."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from reaccord.answer.formula import match_formula
from reaccord.answer.judge import Judgement, judge
from reaccord.answer.limits_held import LimitState
from reaccord.answer.why.reasons import reasons
from reaccord.cli.result import Options, Result, guard_outputs
from reaccord.cli.sources import inputs_of, study_beside
from reaccord.findings import Finding, Findings, Place
from reaccord.report.csvs import residual_csv
from reaccord.report.data import judgement_data
from reaccord.report.terminal import compare_text
from reaccord.tables.read import read_formula


def run(path: Path, formula: Path, options: Options) -> Result:
    """Judge a formula against a study."""
    findings = Findings()
    found = read_formula(formula, findings)
    study = study_beside(path, findings)
    amounts = match_formula(study, found[0] if found else (), findings)
    if not findings.errors and not any(amounts.values()):
        findings.error("empty-table", "no line pours anything.", Place(formula.name))
    findings.raise_errors()
    assert found is not None
    guard_outputs(options, [*inputs_of(path, study), formula])
    study = replace(study, inputs=(*study.inputs, found[1]))
    try:
        judged = judge(study, amounts)
    except ValueError as fault:
        findings.error("nothing-named", f"{fault}.", Place(formula.name))
        findings.raise_errors()
        raise
    why = reasons(study, judged, optimised=False)
    data = judgement_data(study, judged, why)
    return Result(
        "compare",
        "done",
        0,
        data,
        lambda width: compare_text(study, judged, why, width),
        lambda: residual_csv(data["residuals"]),
        (*study.warnings, *findings.warnings, *_broken(judged, formula)),
    )


def _broken(judged: Judgement, formula: Path) -> list[Finding]:
    """Return a warning for each limit that does not hold: CSV has no other place for it."""
    place = Place(formula.name)
    return [
        Finding(
            "warning",
            "broken-limit",
            f"breaks {s.label}: {_figure(s, s.value)}, {s.sense} {_figure(s, s.limit)}.",
            place,
        )
        for s in judged.broken
    ]


def _figure(state: LimitState, value: float) -> str:
    """Return the value or the limit of a state in full, with its unit."""
    if state.unit == "share":
        return f"{value * 100:.9g} %"
    return f"{value:.9g}" + {"g": " g", "per kg": " per kg"}.get(state.unit, "")
