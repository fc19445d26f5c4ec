"""A study as the bytes of its files: it can be solved where none of these files can be seen.

The same bytes are hashed, sent and read, so that a line of results always tells what it was made from. Of a table that
several studies name these are the very same objects, which a message holds once.
"""

from __future__ import annotations

import datetime
import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from reaccord.domain.settings import Settings
from reaccord.domain.study import Study
from reaccord.domain.tables import InputFile
from reaccord.findings import Finding, Findings
from reaccord.questions.many.kept_files import KeptFiles
from reaccord.study.load import study_from_tables
from reaccord.tables.raw import decode, read_bytes
from reaccord.tables.read import any_table, files_named, study_of_bytes
from reaccord.tables.studyfile import parse_study
from reaccord.tables.target_table import target_lines


@dataclass(frozen=True)
class Parcel:
    """One study to solve, with all it needs.

    `name` is the study file as it was named, `sample` the one column to take as target (None: as the study
    says), `files` every file that could be read, by its name in the study and the study file first; `unread`
    says of the others why not. `date` is the study's own or the day of packing, None if the study file
    cannot be read. `said` is what the study file says, and what was found in it.
    """

    name: str
    sample: str | None
    date: datetime.date | None
    files: Mapping[str, tuple[bytes, InputFile]]
    unread: Mapping[str, tuple[Finding, ...]]
    said: tuple[Settings | None, tuple[Finding, ...]]

    @property
    def identity(self) -> tuple[str, str | None]:
        """Which study and which sample of it, however the path is written."""
        return os.path.normpath(self.name), self.sample

    @property
    def inputs(self) -> list[dict[str, str]]:
        """The files and their SHA-256."""
        return [vars(item).copy() for _, item in self.files.values()]

    @property
    def shelf(self) -> tuple[InputFile, ...]:
        """The files of the tables, but for a target of its own."""
        target = self.said[0].target.table if self.said[0] else ""
        return tuple(item for item in [item for _, item in self.files.values()][1:] if item.file != target)

    def open(self) -> Study:
        """Return the study.

        Raises
        ------
        InvalidInput
            With every error found in the study file and the tables.
        """
        findings = Findings()

        def fetch(name: str) -> tuple[bytes, InputFile] | None:
            findings.extend(self.unread.get(name, ()))
            return self.files.get(name)

        return study_from_tables(study_of_bytes(Path(self.name).name, fetch, findings, self._changed), findings)

    def settings(self, findings: Findings) -> Settings | None:
        """Return what the study file says, of the sample to take; None if it cannot be read."""
        settings, found = self.said
        findings.extend(found)
        return settings and self._changed(settings)

    def _changed(self, settings: Settings) -> Settings:
        """Take the sample, and the day from where it was packed: a worker's clock may stand elsewhere."""
        if self.date not in {None, settings.date}:
            settings = replace(settings, date=self.date)
        if self.sample is None:
            return settings
        return replace(settings, target=replace(settings.target, samples=(self.sample,)))


def parcels(study: str | Path, *, each_sample: bool = False, files: KeptFiles | None = None) -> Iterator[Parcel]:
    """Yield the study as one parcel, or as one for each sample column of its target table; `files` reads the tables."""
    parcel, settings = _packed(Path(study), str(study), files or KeptFiles())
    samples = _samples(parcel, settings) if each_sample and settings else ()
    if not samples:  # none in the table, or it cannot be read: solving says what is wrong
        yield parcel
    for sample in samples:
        yield replace(parcel, sample=sample)


def _packed(path: Path, name: str, tables: KeptFiles) -> tuple[Parcel, Settings | None]:
    files: dict[str, tuple[bytes, InputFile]] = {}
    unread: dict[str, tuple[Finding, ...]] = {}

    def take(file: str, read: Callable[[Findings], tuple[bytes, InputFile] | None]) -> None:
        findings = Findings()
        found = read(findings)
        if found is None:
            unread[file] = tuple(findings)
        else:
            files[file] = found

    take(path.name, partial(read_bytes, path, path.name))
    findings = Findings()  # left to whoever opens the parcel
    text = decode(files[path.name][0], path.name, findings) if files else None
    settings = None if text is None else parse_study(text, path.name, findings)
    folder = str(path.parent)
    for file in files_named(settings) if settings else ():
        if file not in files:
            take(file, partial(tables.read, folder, file))
    date = settings.date if settings else None
    return Parcel(name, None, date, files, unread, (settings, tuple(findings))), settings


def _samples(parcel: Parcel, settings: Settings) -> tuple[str, ...]:
    """Return the sample columns of the target table, also those the study does not use."""
    findings = Findings()
    found = any_table(settings.target.table, parcel.files.get, findings)
    return target_lines(found[0], findings)[1] if found else ()
