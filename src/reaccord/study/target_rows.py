"""Samples combined, closed or left open, and turned into the rows that closeness is measured on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from reaccord.domain.lines import Reported
from reaccord.domain.settings import FitSettings, Scale
from reaccord.domain.stock import Stock
from reaccord.domain.target import Row, Target
from reaccord.findings import Findings, Place
from reaccord.study.materials import Reconciled
from reaccord.study.target_entries import Entry, asked_for, typical
from reaccord.tables.doubts import doubtful_cell

SMALL_SUM = 0.5
"""A table that adds up to less than this may be one of grams or parts."""
LARGEST_SUM = 1.02
"""A table that adds up to more than this is no composition."""
FAR_TOO_MUCH = 1.3
"""More than roundings and wrong digits explain."""


def scale_of(scale: Scale, share: float, floor: float) -> float:
    """Return `s_k` (model.md): 1, `max(t, floor)^-1/2` (Pearson's chi-square) or `1 / max(t, floor)`."""
    if scale == "equal":
        return 1.0
    base = max(share, floor)
    return 1.0 / base if scale == "relative" else 1.0 / math.sqrt(base)


def _total(shares: Iterable[float]) -> float:
    """Return the sum: of floats the nearest float, of fractions (a certificate's) the fraction."""
    listed = list(shares)
    return math.fsum(listed) if all(isinstance(share, float) for share in listed) else sum(listed)


def build_target(
    found: list[Entry],
    samples: tuple[str, ...],
    settled: Reconciled,
    stocks: Iterable[Stock],
    carriers: frozenset[str],
    findings: Findings,
) -> Target:
    """Combine the samples and make all rows: named, foreign, open rest, undeclared."""
    settings = settled.tables.settings
    sums = {sample: sum(typical(entry, sample) for entry in found) for sample in samples or ("",)}
    published = _total(sums.values()) / len(sums)
    close = settings.target.rest == "close"
    place = Place(settings.target.table)
    unread = {found.place.column for found in findings.errors if found.place.file == place.file}
    refused = [entry for entry in found if doubtful_cell(findings, entry.place.at("constituent"))]
    for sample, full in sums.items():
        total = full - sum(typical(entry, sample) for entry in refused)  # a row to be taken out counts for nothing
        ends_unread = not sample and bool(unread & {"low", "high"})
        if doubtful_cell(findings, asked_for(settings)) and (total <= 0 or not sample):
            continue  # the samples asked for are not there
        if total <= 0 and (refused or sample in unread or ends_unread):
            continue
        _doubt_sum(total, place.at(sample) if sample else place, findings, close=close, unread=bool(unread))
    if any(total <= 0 for total in sums.values()):
        sums, published = dict.fromkeys(sums, 1.0), 1.0
    divide = sums if close else dict.fromkeys(sums, 1.0)
    whole = published if close else 1.0
    named = [_combine(entry, divide, whole, settings.target.combine, settings.fit) for entry in found]
    foreign = _foreign(named, stocks, carriers, settings.fit, close)
    unaccounted = max(0.0, 1.0 - published)
    rest = [] if close else _open_rest(named, stocks, carriers, settings.fit, findings, place)
    kept = [row for row in named if row.kind == "named"]
    if not kept and not unread and not refused and not doubtful_cell(findings, asked_for(settings)):
        findings.error("empty-target", "no constituent has a share above zero.", place)
    undeclared = _undeclared(unaccounted, settings.fit)
    return Target(samples, settings.target.rest, published, unaccounted, (*kept, *foreign, *rest, undeclared))


def _doubt_sum(total: float, place: Place, findings: Findings, *, close: bool, unread: bool) -> None:
    """Say where a sample adds up to nothing, too much or little; `unread` if some cell of the table is in doubt."""
    if total <= 0:
        findings.error("empty-sample", "adds up to 0 %.", place)
    elif close and total > LARGEST_SUM + 1e-9:
        text = f"adds up to {total * 100:.7g} %, which is over 102 %. Does a row add up others, or "
        cure = "stand twice? If all are right, divide each by their sum."
        text += "are these no percentages?" if total > FAR_TOO_MUCH else cure
        findings.error("over-102", text, place)
    elif close and total < SMALL_SUM and not unread:
        text = f"adds up to only {total * 100:.4g} %; the rest counts as unaccounted. "
        findings.warn("small-sum", f"{text}If these are grams or parts, write them as percent.", place)


def _combine(entry: Entry, divide: Mapping[str, float], whole: float, combine: str, fit: FitSettings) -> Row:
    shares = {s: share for s, share in entry.shares.items() if share is not None}
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
    row = Row(entry.label, "named", entry.members, typical, typical, typical, 0.0)
    if low is not None and high is not None:
        row = replace(row, low=low, high=high)
    if row.share <= 0 or row.high <= 0:
        factor = entry.weight * scale_of(fit.scale, 0.0, fit.foreign_floor)
        return replace(row, kind="foreign", share=0.0, low=0.0, high=0.0, factor=factor)
    return replace(row, factor=entry.weight * scale_of(fit.scale, row.share, fit.floor))


def _whole_of(shares: Mapping[str, Reported], divide: Mapping[str, float]) -> float:
    """Return what the mean of a row's shares is divided by when each is by its own sample's sum; 0 without shares.

    The band beside them is divided by the same: else a mean could leave the band it stands in as published.
    """
    as_published = _total(share.number for share in shares.values())
    closed = _total(share.number / divide[sample] for sample, share in shares.items())
    return as_published / closed if closed > 0 else 0.0


def _on_shelf(stocks: Iterable[Stock], carriers: frozenset[str]) -> set[str]:
    return {n for stock in stocks for n, gram in stock.content.typical.items() if gram > 0} - carriers


def _foreign(
    named: list[Row], stocks: Iterable[Stock], carriers: frozenset[str], fit: FitSettings, close: bool
) -> list[Row]:
    """Return a row of share 0 for each constituent that is on the shelf and in no named row.

    A row written as 0 or `nd` is such a row too and keeps its weight; with an open rest only those.
    """
    shelf = _on_shelf(stocks, carriers)
    written = [row for row in named if row.kind == "foreign" and row.members & shelf]
    covered = frozenset().union(*(row.members for row in named))
    factor = scale_of(fit.scale, 0.0, fit.foreign_floor)
    others = [Row(name, "foreign", frozenset({name}), 0.0, 0.0, 0.0, factor) for name in shelf - covered if close]
    return sorted((*written, *others), key=lambda row: row.label)


OPEN_REST = "all other constituents"
UNDECLARED_ROW = "undeclared"


def _open_rest(
    named: list[Row],
    stocks: Iterable[Stock],
    carriers: frozenset[str],
    fit: FitSettings,
    findings: Findings,
    place: Place,
) -> list[Row]:
    least = sum(row.low for row in named)
    if least > 1 + 1e-9:
        findings.error("over-100", f"the lows (or shares) add up to {least * 100:.5g} %, which is over 100 %.", place)
    high = max(0.0, 1.0 - least)
    members = _on_shelf(stocks, carriers) - frozenset().union(*(row.members for row in named))
    factor = scale_of(fit.scale, high, fit.foreign_floor)
    return [Row(OPEN_REST, "open rest", frozenset(members), high / 2, 0.0, high, factor)]


def _undeclared(unaccounted: float, fit: FitSettings) -> Row:
    high = unaccounted / (1 - unaccounted) if unaccounted < 1 else 1.0
    factor = scale_of(fit.scale, high, fit.foreign_floor)
    return Row(UNDECLARED_ROW, "undeclared", frozenset(), high / 2, 0.0, high, factor)
