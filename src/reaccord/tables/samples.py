"""The sample columns of a target: every heading that no column declares, doubted where it looks like something else."""

from __future__ import annotations

from collections.abc import Collection

from reaccord.findings import Findings
from reaccord.names.key import nearest
from reaccord.tables import columns
from reaccord.tables.heading_units import share_unit
from reaccord.tables.heading_words import (
    is_mean,
    is_statistic,
    other_unit,
    says_area,
    says_percent,
    small_unit,
    weighed,
)
from reaccord.tables.raw import RawTable

_DECLARED = {column.name for column in columns.TARGET}
_CURE = "If it is no sample, take the column out; else name it in target.samples."


def refused_columns(raw: RawTable, wanted: Collection[str], findings: Findings) -> set[str]:
    """Return the columns that hold no share by mass as they stand: volumes, moles, small units without a sign.

    Each is an error, unless the study names other samples (`wanted`) or another column says that it is percent: then it
    is passed over.
    """
    free = [heading for heading in raw.headings if heading not in _DECLARED]
    faults = {h: share_unit(raw, h) or (_in_grams(raw, h) if h not in wanted else "") for h in free}
    refused = {heading for heading, fault in faults.items() if fault}
    if not wanted and any(says_percent(raw.said(heading)) for heading in free if heading not in refused):
        beside = "left out: it is in another unit than percent by mass, which stands beside it"
        findings.warn_headings("taken-as", ((raw.heading(h), beside) for h in free if h in refused))
        return refused
    for heading in (h for h in free if h in refused and (not wanted or h in wanted)):
        several = not wanted and small_unit(raw.said(heading)) and len(free) > 1
        cure = " Or name the samples that are meant in target.samples." if several else ""
        findings.error("no-share", faults[heading] + cure, raw.heading(heading))
    return refused


def _in_grams(raw: RawTable, heading: str) -> str:
    """Return what to do about a column whose heading says that it holds masses."""
    found = weighed(raw.said(heading))
    return f'the heading says "{found}". Give percent by mass: each divided by their sum, times 100.' if found else ""


def sample_columns(raw: RawTable, wanted: Collection[str], findings: Findings) -> tuple[str, ...]:
    """Return all headings that are no declared column, `raw` being without what is refused or put aside.

    What looks like a statistic, another unit or a declared column is a warning, unless the study names samples.
    """
    samples = []
    for heading in raw.headings:
        if heading in _DECLARED:
            continue
        hint = nearest(heading, _DECLARED)
        if hint == "constituent" and hint not in raw.headings:
            continue  # a column of that name must be there: this one is misspelt
        samples.append(heading)
        if hint and hint not in raw.headings and heading not in wanted:
            text = f'read as a sample. If it was meant as "{hint}", write it so.'
            findings.warn("sample-or-column", text, raw.heading(heading))
    if not wanted:
        _doubt(raw, samples, findings)
    return tuple(samples)


def _doubt(raw: RawTable, samples: Collection[str], findings: Findings) -> None:
    """Warn of samples whose headings look like a statistic, a mean of the others or another unit."""
    means = [heading for heading in samples if is_mean(heading)]
    for heading in samples:
        place = raw.heading(heading)
        if heading in means and len(means) < len(samples):
            text = "counted as a sample beside those it may be the mean of. Name the samples in target.samples, or "
            findings.warn("sample-or-column", f"{text}take it out.", place)
        elif is_statistic(heading):
            findings.warn("sample-or-column", f"read as a sample; it looks like a statistic. {_CURE}", place)
        elif other_unit(raw.said(heading)):
            text = f"read as a sample in percent by mass; it looks like another unit. {_CURE}"
            findings.warn("sample-or-column", text, place)


def say_area(raw: RawTable, headings: Collection[str], cure: str, findings: Findings) -> None:
    """Say of columns that speak of area that they are taken as mass; `cure` says what converts them."""
    text = f"area percent taken as percent by mass; if they come from a flame ionisation detector, {cure} converts them"
    findings.warn_headings("taken-as", ((raw.heading(h), text) for h in headings if says_area(raw.said(h))))
