"""`reaccord check`: everything read, every finding reported, nothing solved."""

from __future__ import annotations

from pathlib import Path

from reaccord.cli.result import Options, Result, guard_outputs
from reaccord.cli.sources import inputs_of
from reaccord.report.checked import checked_data, checked_text
from reaccord.report.csvs import finding_csv
from reaccord.study.load import load_study


def run(path: Path, options: Options) -> Result:
    """Read a study and say how it was taken."""
    study = load_study(path)
    guard_outputs(options, inputs_of(path, study))
    data = checked_data(study)
    rows = [{"severity": f.severity, **f.as_dict()} for f in study.warnings]
    return Result(
        "check",
        "done",
        0,
        data,
        lambda width: checked_text(study, width),
        lambda: finding_csv(rows),
        study.warnings,
    )
