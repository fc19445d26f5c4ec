"""A study from its files, from data frames or from tables already read: every finding raised at once."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from reaccord.domain.study import Study
from reaccord.domain.tables import Tables
from reaccord.findings import Findings, UsageError
from reaccord.study.assemble import assemble
from reaccord.study.frames import table_of_frame
from reaccord.study.settle import settle
from reaccord.tables.read import read_study, read_tables
from reaccord.tables.studyfile import parse_study

if TYPE_CHECKING:
    import pandas as pd


def load_study(path: str | Path) -> Study:
    """Read a study file and all its tables; a folder stands for the one study file in it.

    Raises
    ------
    InvalidInput
        With every error found in the study file and the tables.
    UsageError
        If the folder holds several study files.
    """
    findings = Findings()
    return study_from_tables(read_study(study_file(Path(path)), findings), findings)


def study_file(path: Path) -> Path:
    """Return the one study file (TOML) in a folder; any other path as it is.

    Raises
    ------
    UsageError
        If there is none, or there are several: which is meant cannot be known.
    """
    if not os.path.isdir(path):  # a path that no file can have is none
        return path
    found = sorted(file for file in path.glob("*.toml") if not file.name.startswith(".") and file.is_file())
    if len(found) > 1:
        names = ", ".join(file.name for file in found)
        raise UsageError(f"{path} holds {len(found)} study files: {names}. Which one? Name it, as {found[-1]}.")
    if not found:
        raise UsageError(f"{path} holds no study file (.toml). `reaccord new FOLDER` writes one to fill in.")
    return found[0]


def study_from_frames(settings: str, frames: Mapping[str, pd.DataFrame]) -> Study:
    """Make a study from the text of a study file and data frames for the tables it names.

    Parameters
    ----------
    settings
        The study file (TOML) as text.
    frames
        A frame for each table name in it (`"target.csv"`); columns as in the files, cells as text or
        numbers (percent by mass), missing values are blanks.

    Raises
    ------
    InvalidInput
        With every error found; a row is counted as if the frame stood in a file (headings: row 1).
    """
    findings = Findings()
    parsed = parse_study(settings, "study", findings)
    tables = None
    if parsed is not None:
        tables = read_tables(parsed, lambda name: table_of_frame(name, frames, findings), findings)
    return study_from_tables(tables, findings)


def study_from_tables(tables: Tables | None, findings: Findings) -> Study:
    """Settle what was read and make it a study; None where so much is missing that a finding says why.

    Raises
    ------
    InvalidInput
        With every error found; warnings come along.
    """
    if tables is None:
        findings.raise_errors()
        raise AssertionError("tables are missing without a finding")
    return assemble(tables, settle(tables, findings), tables.settings, findings)
