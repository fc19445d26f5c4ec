"""Typed cells into the lines of the domain, one function a table."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import Any

from reaccord.domain.lines import (
    Basis,
    BottleLine,
    CompositionLine,
    ConstituentLine,
    FormulaLine,
    LimitLine,
    Reported,
    TargetLine,
)
from reaccord.findings import Findings, Place
from reaccord.tables import columns
from reaccord.tables.doubts import Doubts, doubtful_cell
from reaccord.tables.heading_words import WORDS
from reaccord.tables.headings import settle_headings, without, without_asides, without_cas
from reaccord.tables.raw import RawTable
from reaccord.tables.rows import typed_rows
from reaccord.tables.samples import refused_columns, sample_columns, say_area
from reaccord.tables.tokens import say_taken

_TOTAL = re.compile(
    r"(?:sub-?)?(?:total|sum)(?:\s+(?:of|all|sum|total|identified|compounds|constituents|components|area|percentage))*"
    r"\s*[\[(]?%?[\])]?:?",
    re.IGNORECASE,
)


def _filled(values: dict[str, Any]) -> dict[str, Any]:
    """Drop blanks, so that the defaults of the domain's records hold."""
    return {name: value for name, value in values.items() if value is not None}


def target_lines(
    raw: RawTable, findings: Findings, wanted: Collection[str] = (), basis: Basis = "mass"
) -> tuple[tuple[TargetLine, ...], tuple[str, ...]]:
    """Return the target's rows and its sample columns: every heading that is no declared column.

    Of the samples only the `wanted` ones are read (none named: all of them), so that a laboratory's
    further columns may stay where they are. `basis` is what the study says of the percentages.
    """
    cure = " If it is a sample, name it in target.samples."
    raw = without_asides(raw, findings, say=not wanted, kept=wanted, cure=cure)
    raw = settle_headings(raw, columns.TARGET, WORDS["target"], findings, kept=wanted)
    refused = refused_columns(raw, wanted, findings)
    raw = without(raw, refused)
    samples = sample_columns(raw, wanted, findings)
    read = [sample for sample in samples if sample in wanted] if wanted else list(samples)
    if basis != "fid-area":
        say_area(raw.file, read, 'basis = "fid-area" under [target]', findings)
    others = dict.fromkeys(read, columns.SAMPLE)
    passed_over = frozenset(samples) - set(read)
    lines = []
    for place, values in typed_rows(raw, columns.TARGET, findings, others=others, passed_over=passed_over):
        shares = {sample: values.pop(sample) for sample in read}
        name = values.pop("constituent") or ""
        line = TargetLine(place, name, shares, **_filled(values))
        if line.low and line.high and line.low.number > line.high.number:
            findings.error("band", "low is above high.", place.at("low"))
        if name and not _adds_up(name, place.at("constituent"), findings):
            lines.append(line)
    shown = [(line.at, heading, cell) for line in lines for heading, cell in line.shares.items()]
    shown += [(line.at, heading, getattr(line, heading)) for line in lines for heading in ("low", "high")]
    say_taken(shown, findings)
    unread = refused.intersection(wanted) if wanted else refused and not read
    return () if unread else tuple(lines), samples  # rows without a share are no finding of their own then


def _adds_up(name: str, place: Place, findings: Findings) -> bool:
    """Whether a row is the last line of an analysis, which adds up the others: an error."""
    if not _TOTAL.fullmatch(name):
        return False
    findings.error("total-row", f'"{name}" adds up other rows and is none itself. Take it out of the table.', place)
    return True


def _dilution(line: BottleLine | CompositionLine | FormulaLine, written: Mapping[str, str], findings: Findings) -> None:
    """Say where a strength stands without a carrier, or a carrier without a strength."""
    unread = doubtful_cell(findings, line.at.at("carrier"))
    if line.strength < 1 and not line.carrier and not unread:
        findings.error("blank", "a dilution without a carrier: what is it diluted in?", line.at.at("carrier"))
    if line.carrier and line.strength == 1 and not doubtful_cell(findings, line.at.at("strength")):
        said = "a carrier and a strength of 100 %" if written.get("strength") else "a carrier but no strength"
        text = f"{said}: taken as neat. If it is a dilution, write its strength."
        findings.warn("carrier-but-neat", text, line.at.at("strength"))


def bottle_lines(raw: RawTable, findings: Findings) -> tuple[BottleLine, ...]:
    """Return the bottles; a constituent without a purity, or the other way round, is an error."""
    raw = settle_headings(raw, columns.BOTTLES, WORDS["bottles"], findings)
    written = dict(raw.rows)
    lines = []
    rows = typed_rows(raw, columns.BOTTLES, findings)
    doubts = Doubts(findings)
    for place, values in rows:
        line = BottleLine(place, values.pop("material") or "", **_filled(values))
        if line.constituent and line.purity is None and not doubts.row(place):
            findings.error("blank", f"blank; how pure is the {line.constituent} in it?", place.at("purity"))
        if line.purity is not None and not line.constituent:
            findings.error("blank", "a purity without a constituent: purity of what?", place.at("constituent"))
        _dilution(line, written[place.row or 0], findings)
        if line.purity is not None and line.purity <= 0.01 and _plain(written[place.row or 0], "purity"):
            text = f"read as {line.purity * 100:g} %: a plain number is percent. If a fraction is meant, write "
            text += f"{line.purity * 1e4:g} %, else write its sign: {line.purity * 100:g} %."
            findings.warn("fraction", text, place.at("purity"))
        if line.material:
            lines.append(line)
    _all_fractions([line for line in lines if _plain(written[line.at.row or 0], "strength")], findings)
    return tuple(lines)


def _plain(row: Mapping[str, str], column: str) -> bool:
    """Whether a share is written without its sign."""
    return row.get(column, "")[-1:].isdigit()


def _all_fractions(diluted: Collection[BottleLine], findings: Findings) -> None:
    """Say so where every strength that is written as a plain number could be a fraction."""
    if diluted and all(line.strength <= 0.01 for line in diluted) and any(line.strength < 0.01 for line in diluted):
        sentence = "read as {:g} %: a plain number is percent. If a fraction is meant, write {:g} %, "
        sentence += "else write its sign"
        doubts = ((x.at.at("strength"), sentence.format(x.strength * 100, x.strength * 1e4)) for x in diluted)
        findings.warn_once("fraction", doubts)


def composition_lines(raw: RawTable, findings: Findings) -> tuple[CompositionLine, ...]:
    """Return the parts of all materials; low <= share <= high is checked."""
    raw = given = without_cas(without_asides(raw, findings), findings)
    raw = settle_headings(raw, columns.COMPOSITIONS, WORDS["compositions"], findings)
    written = dict(raw.rows)
    lines = []
    for place, values in typed_rows(raw, columns.COMPOSITIONS, findings):
        material, part = values.pop("material") or "", values.pop("part") or ""
        share = values.pop("share")
        line = CompositionLine(place, material, part, share or Reported(0.0), **_filled(values))
        if share is not None and line.low is not None and line.low > share.high:
            findings.error("band", "low is above the share.", place.at("low"))
        if share is not None and line.high is not None and line.high < share.number:
            findings.error("band", "high is below the share.", place.at("high"))
        _dilution(line, written[place.row or 0], findings)
        if material and part and not _adds_up(part, place.at("part"), findings):
            lines.append(line)
    say_taken([(line.at, "share", line.share) for line in lines], findings)
    by_area = {line.material.casefold() for line in lines if line.basis == "fid-area"}
    if any(line.material.casefold() not in by_area for line in lines):
        shares = [said for said, heading in zip(given.headings, raw.headings, strict=True) if heading == "share"]
        say_area(raw.file, shares, "fid-area in the column basis", findings)
    return tuple(lines)


def constituent_lines(raw: RawTable, findings: Findings) -> tuple[ConstituentLine, ...]:
    """Return the study's own constituents."""
    raw = settle_headings(raw, columns.CONSTITUENTS, WORDS["constituents"], findings)
    lines = []
    for place, values in typed_rows(raw, columns.CONSTITUENTS, findings):
        name = values.pop("constituent")
        if name:
            lines.append(ConstituentLine(place, name, **_filled(values)))
    return tuple(lines)


def limit_lines(raw: RawTable, findings: Findings) -> tuple[LimitLine, ...]:
    """Return the restricted substances; a blank max is 0 and allowed for prohibited only."""
    raw = settle_headings(raw, columns.LIMITS, WORDS["limits"], findings)
    written = dict(raw.rows)
    lines = []
    rows = typed_rows(raw, columns.LIMITS, findings)
    doubts = Doubts(findings)
    for place, values in rows:
        most = values.pop("max")
        filled = _filled(values)
        line = LimitLine(
            place,
            filled.pop("rule", ""),
            filled.pop("members", ()),
            filled.pop("product", ""),
            most,
            **filled,
        )
        no_max = most is None and not doubts.row(place) and not written[place.row or 0].get("max")
        if no_max and line.kind != "prohibited":
            findings.error("blank", "blank; how much may be in the finished product?", place.at("max"))
        if most == 0 and line.kind == "ratio":
            findings.error("out-of-range", "a ratio cannot divide by 0.", place.at("max"))
        if line.rule and line.members:
            lines.append(line)
    return tuple(lines)


def formula_lines(raw: RawTable, findings: Findings) -> tuple[FormulaLine, ...]:
    """Return the lines of a formula."""
    raw = settle_headings(raw, columns.FORMULA, WORDS["formula"], findings)
    written = dict(raw.rows)
    lines = []
    for place, values in typed_rows(raw, columns.FORMULA, findings):
        del values["share"], values["cost"]
        material, grams = values.pop("material") or "", values.pop("grams") or 0.0
        line = FormulaLine(place, material, grams, **_filled(values))
        _dilution(line, written[place.row or 0], findings)
        if material:
            lines.append(line)
    return tuple(lines)
