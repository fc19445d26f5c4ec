"""The study as the desk opens it: with every sample that can be read, and what has become of its files since."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from reaccord.domain.study import Study
from reaccord.findings import Finding, Findings, InvalidInput
from reaccord.study.changed import with_samples
from reaccord.study.load import load_study, study_file
from reaccord.study.target_entries import samples_of
from reaccord.tables.raw import decode, read_bytes
from reaccord.tables.read import files_named
from reaccord.tables.studyfile import parse_study

Stamp = tuple[tuple[str, int, int], ...]
"""Of each file its name, when it was changed, and how large it is."""


@dataclass(frozen=True)
class Opened:
    """What was read of a study file: the study, or what is wrong with it; `stamp` is of its files as they were then."""

    study: Study | None
    findings: tuple[Finding, ...]
    stamp: Stamp


def opened(file: Path) -> Opened:
    """Read a study."""
    stamp = stamp_of(file)  # before it is read: what is changed meanwhile is noticed
    try:
        return Opened(_with_all_samples(file), (), stamp)
    except InvalidInput as fault:
        return Opened(None, fault.errors, stamp)


def _with_all_samples(file: Path) -> Study:
    """Read a study so that it can be had of other samples of its target too, where those can be read."""
    study = load_study(file)
    own = samples_of(study.settings, study.tables.samples)
    if set(own) == set(study.tables.samples):
        return study
    try:
        return with_samples(load_study(file, study.tables.samples), study.settings.target.samples)
    except InvalidInput:
        return study


def stamp_of(file: Path) -> Stamp:
    """Return what tells whether a study's files were changed: all that the study file names, as it stands."""
    findings = Findings()
    found = read_bytes(file, file.name, findings)
    text = None if found is None else decode(found[0], file.name, findings)
    settings = None if text is None else parse_study(text, file.name, findings)
    names = [] if settings is None else list(files_named(settings))
    return tuple(_one(file.parent / name, name) for name in (file.name, *names))


def _one(path: Path, name: str) -> tuple[str, int, int]:
    try:
        said = path.stat()
    except (OSError, ValueError):
        return name, 0, -1
    return name, said.st_mtime_ns, said.st_size


def study_path(path: Path) -> Path:
    """Return the study file of a path, whole."""
    return study_file(path).resolve()
