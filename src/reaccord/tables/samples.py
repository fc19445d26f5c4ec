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
    small_unit,
)
from reaccord.tables.raw import RawTable

_DECLARED = {column.name for column in columns.TARGET}
_CURE = "If it is no sample, take the column out; else name it in target.samples."


def refused_columns(raw: RawTable, wanted: Collection[str], findings: Findings) -> set[str]:
    """Return the columns that hold no share by mass as they stand: volumes, moles, small units without a sign.

    Each is an error, unless the study names other samples (`wanted`): then it is passed over.
    """
    refused = set()
    for heading in raw.headings:
        if heading in _DECLARED:
            continue
        fault = share_unit(raw, heading)
        if not fault:
            continue
        refused.add(heading)
        if not wanted and small_unit(raw.said(heading)) and len(set(raw.headings) - _DECLARED) > 1:
            fault += " Or name the samples that are meant in target.samples."
        if not wanted or heading in wanted:
            findings.error("no-share", fault, raw.heading(heading))
    return refused


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
    for heading in headings:
        if says_area(raw.said(heading)):
            text = "area percent taken as percent by mass; if they come from a flame ionisation detector, "
            findings.warn("taken-as", f"{text}{cure} converts them.", raw.heading(heading))
