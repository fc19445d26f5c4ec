"""The target as people have it: a journal's table, a certificate, a list of their own, into its rows and samples."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from typing import Any

from reaccord.domain.lines import Basis, Reported, TargetLine
from reaccord.findings import Findings, Place
from reaccord.tables import columns
from reaccord.tables.heading_words import WORDS, forms, is_range, key
from reaccord.tables.headings import renamed, settle_headings, without, without_asides
from reaccord.tables.left_out import without_left_out
from reaccord.tables.name_column import with_name_column
from reaccord.tables.no_shares import without_no_shares
from reaccord.tables.raw import RawTable
from reaccord.tables.rows import typed_rows
from reaccord.tables.samples import refused_columns, sample_columns, say_area
from reaccord.tables.tokens import say_taken

_CURE = " If it is a sample, name it in target.samples."
_DECLARED = frozenset(column.name for column in columns.TARGET)
NOT_THERE = "not detected: blank beside what another sample has"


def target_lines(
    raw: RawTable,
    findings: Findings,
    wanted: Collection[str] = (),
    basis: Basis = "mass",
    known: Callable[[str], bool] = lambda _: False,
) -> tuple[tuple[TargetLine, ...], tuple[str, ...]]:
    """Return the target's rows and its sample columns: every heading that is no declared column.

    Of the samples only the `wanted` ones are read (none named: all of them), so that a laboratory's
    further columns may stay where they are. `basis` is what the study says of the percentages, `known` whether a name
    is one of something known: its row is never taken for a title.
    """
    raw = with_name_column(raw, "constituent", frozenset(wanted), findings)
    headings = settle_headings(
        raw, columns.TARGET[:1], {"constituent": WORDS["target"]["constituent"]}, findings, kept=wanted
    )
    headings = _of_materials(headings, wanted, findings)
    if headings is None:
        return (), ()
    raw = without_left_out(headings, "constituent", findings, known, analysis=True)
    raw = without_asides(raw, findings, say=not wanted, kept=(*wanted, *_ranges(raw)), cure=_CURE)
    raw = settle_headings(raw, columns.TARGET, WORDS["target"], findings, kept=wanted)
    raw = _range_beside(raw, wanted)
    refused = refused_columns(raw, wanted, findings)
    raw = without_no_shares(without(raw, refused), _DECLARED.union(wanted), findings, say=not wanted)
    samples = sample_columns(raw, wanted, findings)
    read = [sample for sample in samples if sample in wanted] if wanted else list(samples)
    if basis != "fid-area":
        say_area(raw, read, 'basis = "fid-area" under [target]', findings)
    lines = _lines(raw, read, samples, findings)
    unread = refused.intersection(wanted) if wanted else refused and not read
    return () if unread else lines, samples  # rows without a share are no finding of their own then


def _of_materials(raw: RawTable, wanted: Collection[str], findings: Findings) -> RawTable | None:
    """Return a table of materials and percent with its names as constituents; None, and a cure, for a formula."""
    free = [heading for heading in raw.headings if heading not in wanted]
    named = [heading for heading in free if key(heading) in {"material", *WORDS["bottles"]["material"]}]
    if "constituent" in raw.headings or len(named) != 1:
        return raw
    poured = {*WORDS["formula"]["grams"], "grams", "strength", *WORDS["formula"]["strength"]}
    if any(key(heading) in poured or forms(heading)[0] in poured for heading in free):
        text = (
            "this is a formula: `reaccord compare STUDY FILE` judges one. As a target it needs the columns constituent "
        )
        cure = "(the materials) and a share in percent: gram of neat material, divided by their sum, times 100."
        findings.error("missing-column", text + cure, raw.heading(named[0]))
        return None
    findings.warn("taken-as", "taken as the column constituent: a row may be a material.", raw.heading(named[0]))
    return renamed(raw, {named[0]: "constituent"})


def _ranges(raw: RawTable) -> list[str]:
    return [heading for heading in raw.headings if is_range(heading)]


def _range_beside(raw: RawTable, wanted: Collection[str]) -> RawTable:
    """Return the table with a column of ranges that stands beside samples as the band of its rows."""
    ranges = [heading for heading in _ranges(raw) if heading not in wanted]
    others = [heading for heading in raw.headings if heading not in {*_DECLARED, *ranges}]
    if len(ranges) != 1 or not others or {"low", "high"} & set(raw.headings):
        return raw
    return renamed(raw, {ranges[0]: "low"})


def _lines(raw: RawTable, read: list[str], samples: tuple[str, ...], findings: Findings) -> tuple[TargetLine, ...]:
    others = dict.fromkeys(read, columns.SAMPLE)
    written = dict(raw.rows)
    lines: list[TargetLine] = []
    shown: list[tuple[Place, str, Reported | None]] = []
    passed_over = frozenset(samples) - set(read)
    for place, values in typed_rows(raw, columns.TARGET, findings, others=others, passed_over=passed_over):
        shares: dict[str, Reported | None] = {sample: values.pop(sample) for sample in read}
        name = values.pop("constituent") or ""
        shown += [
            (place, heading, cell) for heading, cell in {**shares, **values}.items() if isinstance(cell, Reported)
        ]
        _band(shares, values)
        if not values["low"] and not values["high"]:
            _not_there(shares, written[place.row or 0], samples, place, shown)
        line = TargetLine(place, name, shares, **{key: value for key, value in values.items() if value is not None})
        if line.low and line.high and line.low.number > line.high.number:
            findings.error("band", "low is above high.", place.at("low"))
        if name:
            lines.append(line)
    say_taken(shown, findings)
    return tuple(lines)


def _band(shares: dict[str, Reported | None], values: dict[str, Any]) -> None:
    """Make a range in a cell the band of its row: of several samples from the lowest to the highest."""
    end = values["low"]
    if end is not None and end.ranges:
        values["low"], values["high"] = Reported(end.low), values["high"] or Reported(end.high)
    there = [share for share in shares.values() if share is not None]
    if not any(share.ranges for share in there) or values["low"] or values["high"]:
        return
    values["low"] = Reported(min(share.low for share in there))
    values["high"] = Reported(max(share.high for share in there))


def _not_there(
    shares: dict[str, Reported | None],
    written: Mapping[str, str],
    samples: tuple[str, ...],
    place: Place,
    shown: list[tuple[Place, str, Reported | None]],
) -> None:
    """Take a blank beside what another sample has as not detected."""
    for sample, share in shares.items():
        beside = any(written[other] for other in samples if other != sample)
        if share is None and not written[sample] and beside:
            shares[sample] = Reported(0.0, "nd", taken=NOT_THERE)
            shown.append((place, sample, shares[sample]))
