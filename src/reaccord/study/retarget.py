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


def with_target(
    settled: Settled, before: Tables, said: tuple[Finding, ...], now: Tables, findings: Findings
) -> Settled | None:
    """Return what settling `now` gives, from what settling `before` gave; None where that cannot be told so.

    Parameters
    ----------
    settled, before, said
        Tables without an error, settled, and what was noted while they were settled, not while they were read.
    now
        The same shelf with a target of the same names (`names_of`), read without an error.
    findings
        What was noted while `now` was read; what settling would note is added.
    """
    old, new = before.settings.target.table, now.settings.target.table
    if _bound_to(old, before.settings.file, settled, said):
        return None
    entries = _entries(settled, before, now)
    if entries is None:
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


def _entries(settled: Settled, before: Tables, now: Tables) -> tuple[TargetEntry, ...] | None:
    """Return the rows with the figures of `now`; None if a row opened a material, or a figure is in doubt."""
    lines = dict(zip((line.at for line in before.target), now.target, strict=True))
    if len(lines) != len(now.target) or sorted(lines) != sorted(entry.place for entry in settled.target):
        return None
    read = {line.at: line for line in before.target}
    was = samples_of(before.settings, before.samples)
    if any(_with_figures(entry, read[entry.place], was) != entry for entry in settled.target):
        return None  # a part of a material that the row opened has not the row's figures
    samples, doubts = samples_of(now.settings, now.samples), Findings()
    found = tuple(_with_figures(entry, lines[entry.place], samples) for entry in settled.target)
    for entry in (*settled.target, *found):
        doubt_figures(entry, samples, doubts)
    return None if any(doubts) else found


def _with_figures(entry: TargetEntry, line: TargetLine, samples: tuple[str, ...]) -> TargetEntry:
    shares = {sample: line.shares.get(sample) for sample in samples}
    return entry._replace(place=line.at, shares=shares, low=line.low, high=line.high, weight=line.weight)
