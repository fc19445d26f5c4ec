"""Another target of the same names on the same shelf: only its figures are settled anew."""

from __future__ import annotations

from dataclasses import replace

from reaccord.domain.lines import TargetLine
from reaccord.domain.settled import Settled, TargetEntry
from reaccord.domain.tables import Tables
from reaccord.findings import Finding, Findings, Place
from reaccord.study.target_entries import doubt_figures, samples_of


def names_of(tables: Tables) -> tuple[object, ...]:
    """Return what of a target has its part in settling the names: where its rows stand, and who they are."""
    return tables.samples, tuple((line.at.row, line.name, line.cas) for line in tables.target)


def figures_apart(settled: Settled, before: Tables, said: tuple[Finding, ...]) -> bool:
    """Whether nothing hangs on the figures of the target but its rows' own, nor on the name of its file.

    Parameters
    ----------
    settled, before, said
        Tables without an error, settled, and what was noted while they were settled, not while they were read.
    """
    if _bound_to(before.settings.target.table, before.settings.file, settled, said):
        return False
    lines, samples = {line.at: line for line in before.target}, samples_of(before.settings, before.samples)
    if len(lines) != len(before.target) or sorted(lines) != sorted(entry.place for entry in settled.target):
        return False
    if any(_with_figures(entry, lines[entry.place], samples) != entry for entry in settled.target):
        return False  # a part of a material that the row opened has not the row's figures
    return not _doubted(settled.target, samples)


def with_target(
    settled: Settled, before: Tables, said: tuple[Finding, ...], now: Tables, findings: Findings
) -> Settled | None:
    """Return what settling `now` gives, from what settling `before` gave; None if a figure is in doubt.

    Parameters
    ----------
    settled, before, said
        As for `figures_apart`, which is true of them.
    now
        The same shelf with a target of the same names (`names_of`), read without an error.
    findings
        What was noted while `now` was read; what settling would note is added.
    """
    old, new = before.settings.target.table, now.settings.target.table
    lines = dict(zip((line.at for line in before.target), now.target, strict=True))
    samples = samples_of(now.settings, now.samples)
    entries = tuple(_with_figures(entry, lines[entry.place], samples) for entry in settled.target)
    if _doubted(entries, samples):
        return None
    findings.extend(warning._replace(place=_in(warning.place, old, new)) for warning in said)
    return replace(
        settled,
        target=entries,
        unknown={name: tuple(_in(place, old, new) for place in places) for name, places in settled.unknown.items()},
        warnings=findings.warnings,
    )


def _in(place: Place, old: str, new: str) -> Place:
    return place._replace(file=new) if place.file == old else place


def _bound_to(target: str, file: str, settled: Settled, said: tuple[Finding, ...]) -> bool:
    """Whether a finding names the target's file in words, or stands in the study file or on a bottle's sums."""
    sums = any(found.place.file == target for bottle in settled.bottles for found in bottle.sums)
    return sums or any(target in found.message or found.place.file == file for found in said)


def _doubted(entries: tuple[TargetEntry, ...], samples: tuple[str, ...]) -> bool:
    doubts = Findings()
    for entry in entries:
        doubt_figures(entry, samples, doubts)
    return any(doubts)


def _with_figures(entry: TargetEntry, line: TargetLine, samples: tuple[str, ...]) -> TargetEntry:
    shares = {sample: line.shares.get(sample) for sample in samples}
    return entry._replace(place=line.at, shares=shares, low=line.low, high=line.high, weight=line.weight)
