"""The files a study is read from."""

from __future__ import annotations

from pathlib import Path

from reaccord.domain.study import Study


def inputs_of(path: Path, study: Study) -> list[Path]:
    """Return the study file and its tables."""
    return [path, *(path.parent / item.file for item in study.inputs)]
