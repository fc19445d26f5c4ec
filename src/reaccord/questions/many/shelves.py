"""Tables read and settled once for all studies that share them, wherever these are solved.

A study of the same tables is assembled from what is settled already (as `study/changed.py` does) and its programme is
stated from the one before; of another target on the same shelf the shelf is not read again, and of one with the same
names nothing but its figures is settled (`study/retarget.py`). The study and the findings are those that reading
everything gives.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import NamedTuple, TypeVar

from reaccord.contract import Programme
from reaccord.domain.settings import Settings
from reaccord.domain.settled import Settled
from reaccord.domain.study import Study
from reaccord.domain.tables import InputFile, Tables
from reaccord.findings import Finding, Findings
from reaccord.programme import restate, state
from reaccord.questions.many.parcel import Parcel
from reaccord.study.assemble import assemble
from reaccord.study.changed import read_from
from reaccord.study.retarget import figures_apart, names_of, with_target
from reaccord.study.settle import settle
from reaccord.tables.once import Once
from reaccord.tables.raw import RawTable
from reaccord.tables.read import any_table, read_tables
from reaccord.tables.refigured import Parted, Spot, parted, refigured, spots_of

Kept = TypeVar("Kept")
MOST = 8
"""Shelves remembered: what a worker holds stays small, however many studies go through."""


@dataclass
class _Ground:
    """What is read and settled of some tables, what was said while they were read, and the last study made of it."""

    tables: Tables
    settled: Settled
    read: tuple[Finding, ...]
    last: tuple[Study, Programme] | None = None

    @property
    def said(self) -> tuple[Finding, ...]:
        """What was said while the tables were settled."""
        return self.settled.warnings[len(self.read) :]

    @cached_property
    def apart(self) -> bool:
        """Whether the figures of the target may be others, all else staying the same."""
        return figures_apart(self.settled, self.tables, self.said)

    def warnings(self, settings: Settings) -> tuple[Finding, ...]:
        """Return what was said of the tables, without what was said of samples that a study is not about."""
        others = set(self.tables.samples) - set(settings.target.samples or self.tables.samples)
        if not others:
            return self.settled.warnings
        said = (w.without(others) if w.place.file == settings.target.table else w for w in self.settled.warnings)
        return tuple(w for w in said if w is not None)

    def fits(self, settings: Settings) -> bool:
        """Whether a study of these settings would have been read and settled so."""
        base = self.tables.settings
        if base.file != settings.file and any(w.place.file == base.file for w in self.settled.warnings):
            return False
        return base.target.samples == settings.target.samples or self._samples_apart(settings)

    def _samples_apart(self, settings: Settings) -> bool:
        """Whether one sample is read the same, whether or not the others are."""
        target, samples = settings.target.table, self.tables.samples
        if not set(settings.target.samples) <= set(samples):
            return False
        lines = self.tables.target
        ranges = any(share.ranges for line in lines for share in line.shares.values() if share)
        banded = [line for line in lines if line.low is not None or line.high is not None]
        absent = any(share.number <= 0 for line in banded for share in line.shares.values() if share)
        odd = any(w.place.file == target and w.place.column not in samples for w in self.read)
        return not ranges and not odd and not absent  # what is not there in one sample alone may contradict its band


class _Formed(NamedTuple):
    """A ground of which only figures of the target may differ: its target's text, and where each number went."""

    ground: _Ground
    text: Parted
    spots: tuple[Spot | None, ...]


class Shelves:
    """The tables seen last, and the studies opened from them."""

    def __init__(self) -> None:
        self._once = Once()
        self._grounds: OrderedDict[Hashable, _Ground | None] = OrderedDict()
        self._named: OrderedDict[Hashable, _Ground] = OrderedDict()
        self._formed: OrderedDict[Hashable, _Formed] = OrderedDict()

    def opened(self, parcel: Parcel) -> tuple[Study, Programme]:
        """Return the study of a parcel, and the study as a programme.

        Raises
        ------
        InvalidInput
            As `Parcel.open`.
        """
        findings = Findings()
        settings = parcel.settings(findings)
        if settings is None or any(findings) or parcel.unread:
            study = parcel.open()
            return study, state(study)
        ground = self._ground(parcel, settings)
        if ground is None or not ground.fits(settings):
            study = parcel.open()
            return study, state(study)
        findings.extend(ground.warnings(settings))
        inputs = tuple(item for _, item in parcel.files.values())
        tables = replace(ground.tables, settings=settings, inputs=inputs)
        was, before = ground.last or (None, None)
        study = assemble(tables, ground.settled, settings, findings, was)
        programme = state(study) if was is None or before is None else restate(before, was, study)
        ground.last = study, programme
        return study, programme

    def _ground(self, parcel: Parcel, settings: Settings) -> _Ground | None:
        """Return what is settled of a parcel's tables, all samples read; None if there are errors in them."""
        whole = settings if parcel.sample is None else replace(settings, target=replace(settings.target, samples=()))
        digests = tuple((name, item.sha256) for name, (_, item) in list(parcel.files.items())[1:])
        key = (digests, _settled_by(whole))
        if key not in self._grounds:
            _keep(self._grounds, key, self._settled(parcel, whole))
        self._grounds.move_to_end(key)
        return self._grounds[key]

    def _settled(self, parcel: Parcel, settings: Settings) -> _Ground | None:
        """Read and settle a parcel's tables, or as much of them as differs from others; None if there are errors."""
        target = settings.target.table
        others = replace(settings, target=replace(settings.target, table=""))
        text = parted(parcel.files[target][0]) if target.endswith(".csv") and target in parcel.files else None
        key = (parcel.shelf, _settled_by(others), text and text.form)
        formed = self._formed.get(key)
        if formed is not None and text is not None:
            self._formed.move_to_end(key)
            ground = _with_figures(formed, text, parcel.files[target][1], settings)
            if ground is not None:
                return ground
        ground = self._read(parcel, settings, others)
        if ground is None or text is None or any(said.place.file == target for said in ground.read):
            return ground
        spots = spots_of(text, ground.tables.target)
        if spots is not None and target not in read_from(others):
            _keep(self._formed, key, _Formed(ground, text, spots))
        return ground

    def _read(self, parcel: Parcel, settings: Settings, others: Settings) -> _Ground | None:
        """Read a parcel's tables and settle them; of a target of known names only its figures."""
        findings = Findings()

        def source(name: str) -> tuple[RawTable, InputFile] | None:
            return any_table(name, parcel.files.get, findings, self._once)

        tables = read_tables(settings, source, findings, self._once)
        if tables is None or findings.errors:
            return None
        read, target = findings.warnings, settings.target.table
        shelf = tuple(item for item in tables.inputs if item.file != target)
        key = (shelf, _settled_by(others), tables.unread, names_of(tables))
        alike = self._named.get(key)
        if alike is not None:
            self._named.move_to_end(key)
            ground = _with_target(alike, tables, read, findings)
            if ground is not None:
                return ground
        settled = settle(tables, findings)
        if findings.errors:
            return None
        ground = _Ground(tables, settled, read)
        if target not in read_from(others):  # else it is a table of the shelf as well
            _keep(self._named, key, ground)
        return ground


def _with_figures(formed: _Formed, text: Parted, item: InputFile, settings: Settings) -> _Ground | None:
    """Return the ground of a target of the same form, None where it has to be read."""
    before = formed.ground.tables
    lines = refigured(before.target, formed.spots, formed.text, text, settings.target.table)
    if lines is None:
        return None
    old = before.settings.target.table
    inputs = tuple(item if one.file == old else one for one in before.inputs)
    findings = Findings()
    findings.extend(formed.ground.read)
    tables = replace(before, settings=settings, target=lines, inputs=inputs)
    return _with_target(formed.ground, tables, formed.ground.read, findings)


def _with_target(alike: _Ground, tables: Tables, read: tuple[Finding, ...], findings: Findings) -> _Ground | None:
    """Return the ground of tables that differ in the figures of the target alone, None where it cannot be told so."""
    settled = with_target(alike.settled, alike.tables, alike.said, tables, findings) if alike.apart else None
    return None if settled is None else _Ground(tables, settled, read, alike.last)


def _settled_by(settings: Settings) -> Hashable:
    """Return what of the settings had its part in settling the tables."""
    carrier = settings.dilutions.carrier if settings.dilutions else None
    return read_from(settings), carrier, settings.target.samples


def _keep(kept: OrderedDict[Hashable, Kept], key: Hashable, one: Kept) -> None:
    """Keep one more; what was longest not asked for is forgotten."""
    kept[key] = one
    while len(kept) > MOST:
        kept.popitem(last=False)


@cache
def shelves() -> Shelves:
    """Return those of this process."""
    return Shelves()
