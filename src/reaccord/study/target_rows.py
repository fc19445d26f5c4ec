"""Samples combined, closed or left open, and turned into the rows that closeness is measured on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import NamedTuple

from reaccord.domain.lines import Reported
from reaccord.domain.settings import FitSettings, Scale, Settings
from reaccord.domain.settled import TargetEntry
from reaccord.domain.stock import Stock
from reaccord.domain.target import Target, TargetRow
from reaccord.findings import Findings, Place
from reaccord.study.target_entries import asked_for
from reaccord.tables.doubts import doubtful_cell

SMALL_SUM = 0.5
"""A table that adds up to less than this may be one of grams or parts."""
LARGEST_SUM = 1.02
"""A table that adds up to more than this is no composition."""
FAR_TOO_MUCH = 1.3
"""More than roundings and wrong digits explain."""


def scale_of(scale: Scale, share: float, floor: float) -> float:
    """Return `s_k`: 1, `max(t, floor)^-1/2` (Pearson's chi-square) or `1 / max(t, floor)`."""
    if scale == "equal":
        return 1.0
    base = max(share, floor)
    return 1.0 / base if scale == "relative" else 1.0 / math.sqrt(base)


def _total(shares: Iterable[float]) -> float:
    """Return the sum: of floats the nearest float, of fractions (a certificate's) the fraction."""
    listed = list(shares)
    return math.fsum(listed) if all(isinstance(share, float) for share in listed) else sum(listed)


class _Doubts(NamedTuple):
    """Columns of the target in which something could not be read, and rows whose name was refused."""

    unread: frozenset[str | None]
    refused: tuple[TargetEntry, ...]


class _Sums(NamedTuple):
    """Of each sample what its rows add up to, and the mean of that as published."""

    of: Mapping[str, float]
    published: float


def build_target(
    entries: Iterable[TargetEntry],
    samples: tuple[str, ...],
    settings: Settings,
    shelf: frozenset[str],
    findings: Findings,
) -> Target:
    """Combine the samples and make all rows: named, foreign, open rest, undeclared.

    `shelf` are the odorants that may be poured.
    """
    found, fit = tuple(entries), settings.fit
    if settings.target.basis == "fid-area":
        found = _in_mass(found, samples)
    place = Place(settings.target.table)
    doubts = _Doubts(
        frozenset(finding.place.column for finding in findings.errors if finding.place.file == place.file),
        tuple(entry for entry in found if doubtful_cell(findings, entry.place.at("constituent"))),
    )
    sums = _sums(found, samples, settings, doubts, findings)
    close = settings.target.rest == "close"
    divide, whole = (sums.of, sums.published) if close else (dict.fromkeys(sums.of, 1.0), 1.0)
    named = [_combine(entry, divide, whole, settings.target.combine, fit) for entry in found]
    foreign = _foreign(named, shelf, fit, close)
    rest = [] if close else _open_rest(named, shelf, fit, findings, place)
    kept = [row for row in named if row.kind == "named"]
    if not kept and not any(doubts) and not doubtful_cell(findings, asked_for(settings)):
        findings.error("empty-target", "no constituent has a share above zero.", place)
    unaccounted = max(0.0, 1.0 - sums.published)
    rows = (*kept, *foreign, *rest, _undeclared(unaccounted, fit))
    return Target(samples, settings.target.rest, sums.published, unaccounted, rows)


def on_shelf(stocks: Iterable[Stock], carriers: frozenset[str]) -> frozenset[str]:
    """Return the constituents that stocks hold and that are no carriers; a dilution holds what its bottles do."""
    bottles = (stock.content.typical.items() for stock in stocks if stock.recipe is None)
    return frozenset(name for held in bottles for name, gram in held if gram > 0) - carriers


def multiplied(target: Target, times: Mapping[str, float], fit: FitSettings) -> Target:
    """Return the target with named rows, and the open rest, at these multiples of their shares, by label."""
    if not times:
        return target
    rows = (_times_share(row, times.get(row.label, 1.0), fit) for row in target.rows)
    return replace(target, rows=tuple(rows))


def _times_share(row: TargetRow, by: float, fit: FitSettings) -> TargetRow:
    """Return a row with its shares times `by`, its factor following the scale of the study."""
    if by == 1 or row.kind not in {"named", "open rest"}:
        return row
    floor = fit.floor if row.kind == "named" else fit.foreign_floor
    at, to = (row.share, row.share * by) if row.kind == "named" else (row.high, row.high * by)
    factor = row.factor * scale_of(fit.scale, to, floor) / scale_of(fit.scale, at, floor)
    high = min(1.0, row.high * by)
    return row._replace(share=row.share * by, low=min(row.low * by, high), high=high, factor=factor)


def _in_mass(found: tuple[TargetEntry, ...], samples: tuple[str, ...]) -> tuple[TargetEntry, ...]:
    """Convert flame-ionisation area percent to mass percent; each sample keeps its sum.

    A trace stays the trace it is printed as; bands go with the mean of the samples.
    """
    scales: dict[str, float] = {}
    for sample in samples or ("",):
        column = [0.0 if _marked(entry, sample) else _typical(entry, sample) for entry in found]
        after = sum(share * entry.response for share, entry in zip(column, found, strict=True))
        scales[sample] = sum(column) / after if after > 0 else 1.0
    mean = sum(scales.values()) / len(scales)
    return tuple(
        entry._replace(
            shares={sample: _times(entry.shares.get(sample), entry.response * scales[sample]) for sample in samples},
            low=_times(entry.low, entry.response * mean),
            high=_times(entry.high, entry.response * mean),
        )
        for entry in found
    )


def _marked(entry: TargetEntry, sample: str) -> bool:
    share = entry.shares.get(sample)
    return share is not None and bool(share.mark)


def _times(end: Reported | None, factor: float) -> Reported | None:
    return end if end is None or end.mark else Reported(end.number * factor)


def _typical(entry: TargetEntry, sample: str) -> float:
    share = entry.shares.get(sample)
    return share.number if share is not None else _middle(entry)


def _middle(entry: TargetEntry) -> float:
    """Return the middle of a band; a blank without one is 0 (and an error by then)."""
    if entry.low is None and entry.high is None:
        return 0.0
    low = entry.low.number if entry.low else 0.0
    return (low + (entry.high.high if entry.high else 1.0)) / 2


def _sums(
    found: tuple[TargetEntry, ...], samples: tuple[str, ...], settings: Settings, doubts: _Doubts, findings: Findings
) -> _Sums:
    """Add up each sample; findings where it adds up to nothing, to too much or to little."""
    sums = {sample: sum(_typical(entry, sample) for entry in found) for sample in samples or ("",)}
    published = _total(sums.values()) / len(sums)
    for sample, full in sums.items():
        total = full - sum(
            _typical(entry, sample) for entry in doubts.refused
        )  # a row to be taken out counts for nothing
        _doubt_sum(sample, total, settings, doubts, findings)
    if any(total <= 0 for total in sums.values()):
        return _Sums(dict.fromkeys(sums, 1.0), 1.0)
    return _Sums(sums, published)


def _doubt_sum(sample: str, total: float, settings: Settings, doubts: _Doubts, findings: Findings) -> None:
    place, close = Place(settings.target.table), settings.target.rest == "close"
    if doubtful_cell(findings, asked_for(settings)) and (total <= 0 or not sample):
        return  # the samples asked for are not there
    ends_unread = not sample and bool(doubts.unread & {"low", "high"})
    if total <= 0 and (doubts.refused or sample in doubts.unread or ends_unread):
        return
    at = place.at(sample) if sample else place
    if total <= 0:
        findings.error("empty-sample", "adds up to 0 %.", at)
    elif close and total > LARGEST_SUM + 1e-9:
        text = f"adds up to {total * 100:.7g} %, which is over 102 %. Does a row add up others, or "
        cure = "stand twice? If all are right, divide each by their sum."
        text += "are these no percentages?" if total > FAR_TOO_MUCH else cure
        findings.error("over-102", text, at)
    elif close and total < SMALL_SUM and not doubts.unread:
        text = f"adds up to only {total * 100:.4g} %; the rest counts as unaccounted. "
        findings.warn("small-sum", f"{text}If these are grams or parts, write them as percent.", at)


def _combine(
    entry: TargetEntry, divide: Mapping[str, float], whole: float, combine: str, fit: FitSettings
) -> TargetRow:
    shares = {s: share for s in divide if (share := entry.shares.get(s)) is not None}
    low: float | None = None
    high: float | None = None
    if entry.low or entry.high:
        whole = _whole_of(shares, divide) or whole
        high = min(1.0, (entry.high.high if entry.high else 1.0) / whole)
        low = min(high, (entry.low.number if entry.low and not entry.low.mark else 0.0) / whole)
    elif shares and all(share.mark == "tr" for share in shares.values()):
        low, high = 0.0, max(share.high / divide[s] for s, share in shares.items())
        shares = {}
    elif shares and combine == "band":
        low = min((0.0 if x.mark == "tr" else x.number) / divide[s] for s, x in shares.items())
        high = max(x.high / divide[s] for s, x in shares.items())
        shares = {}
    if shares:
        typical = _total(x.number / divide[s] for s, x in shares.items()) / len(shares)
    else:
        typical = ((low or 0.0) + (high or 0.0)) / 2
    if low is None or high is None:
        low = high = typical
    if typical <= 0 or high <= 0:
        factor = entry.weight * scale_of(fit.scale, 0.0, fit.foreign_floor)
        return TargetRow(entry.label, "foreign", entry.members, 0.0, 0.0, 0.0, factor)
    factor = entry.weight * scale_of(fit.scale, typical, fit.floor)
    return TargetRow(entry.label, "named", entry.members, typical, low, high, factor)


def _whole_of(shares: Mapping[str, Reported], divide: Mapping[str, float]) -> float:
    """Return what the mean of a row's shares is divided by when each is by its own sample's sum; 0 without shares.

    The band beside them is divided by the same: else a mean could leave the band it stands in as published.
    """
    as_published = _total(share.number for share in shares.values())
    closed = _total(share.number / divide[sample] for sample, share in shares.items())
    return as_published / closed if closed > 0 else 0.0


def _foreign(named: list[TargetRow], shelf: frozenset[str], fit: FitSettings, close: bool) -> list[TargetRow]:
    """Return a row of share 0 for each constituent that is on the shelf and in no named row.

    A row written as 0 or `nd` is such a row too and keeps its weight; with an open rest only those.
    """
    written = [row for row in named if row.kind == "foreign" and row.members & shelf]
    covered = frozenset().union(*(row.members for row in named))
    factor = scale_of(fit.scale, 0.0, fit.foreign_floor)
    others = [TargetRow(name, "foreign", frozenset({name}), 0.0, 0.0, 0.0, factor) for name in shelf - covered if close]
    return sorted((*written, *others), key=lambda row: row.label)


OPEN_REST = "all other constituents"
UNDECLARED_ROW = "undeclared"


def _open_rest(
    named: list[TargetRow], shelf: frozenset[str], fit: FitSettings, findings: Findings, place: Place
) -> list[TargetRow]:
    least = sum(row.low for row in named)
    if least > 1 + 1e-9:
        findings.error("over-100", f"the lows (or shares) add up to {least * 100:.5g} %, which is over 100 %.", place)
    high = max(0.0, 1.0 - least)
    members = shelf - frozenset().union(*(row.members for row in named))
    factor = scale_of(fit.scale, high, fit.foreign_floor)
    return [TargetRow(OPEN_REST, "open rest", members, high / 2, 0.0, high, factor)]


def _undeclared(unaccounted: float, fit: FitSettings) -> TargetRow:
    high = unaccounted / (1 - unaccounted) if unaccounted < 1 else 1.0
    factor = scale_of(fit.scale, high, fit.foreign_floor)
    return TargetRow(UNDECLARED_ROW, "undeclared", frozenset(), high / 2, 0.0, high, factor)
