"""The files a study is read from."""

from __future__ import annotations

from pathlib import Path

from reaccord.domain import study as domain
from reaccord.domain.study import Study
from reaccord.findings import Findings, InvalidInput
from reaccord.study.load import load_study


def inputs_of(path: Path, study: domain.Study) -> list[Path]:
    """Return the study file and its tables."""
    return [path, *(path.parent / item.file for item in study.inputs)]


def study_beside(path: Path, findings: Findings) -> Study:
    """Read a study next to something that was read already.

    Raises
    ------
    InvalidInput
        If the study is wrong; with what was found before.
    """
    try:
        return load_study(path)
    except InvalidInput as fault:
        findings.extend((*fault.errors, *fault.warnings))
        findings.raise_errors()
        raise
