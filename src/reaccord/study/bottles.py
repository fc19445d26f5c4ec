"""The bottles as they stand there: each with what it holds and costs, whether or not it may be poured."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from dataclasses import replace

from reaccord.domain.lines import BottleLine
from reaccord.domain.settled import Bottle, TargetEntry
from reaccord.domain.stock import Content, StockKey
from reaccord.findings import Findings, Place
from reaccord.names.key import did_you_mean
from reaccord.study.composition import UNKNOWN, Opener, dilute
from reaccord.study.materials import Reconciled
from reaccord.study.prices import Prices
from reaccord.study.smallest_mass import exact
from reaccord.study.sums_apart import SumsApart
from reaccord.tables.doubts import Doubts, doubtful_cell

MADE = "made"
"""The lot of a stock that would be made for this batch."""
TERPENE, MOSTLY = "C10H16", 0.5
"""Monoterpenes: what is mostly made of them goes stale in air (common practice, no source)."""
OWN_TO_ROWS = frozenset({"at", "stock_g", "material", "carrier", "lot", "strength"})
"""What rows of one bottle may differ in, or are alike in however it is spelt."""


def bottles(
    settled: Reconciled, opener: Opener, target: tuple[TargetEntry, ...], findings: Findings
) -> tuple[Bottle, ...]:
    """Return the bottles in the order of their table."""
    lines, found, sums = _lines(settled, findings), [], SumsApart(settled, target)
    stands_for = {key.material: settled.stands_for(key.material) for key in lines}
    prices = Prices(lines, settled.parts, stands_for, opener.order)
    for key, line in lines.items():
        analysis, content = settled.analysis(key.material, key.lot), _content(key, line, settled, opener, findings)
        apart, said = sums.of(analysis, content, key.strength)
        found.append(Bottle(key, content, prices.of(key, analysis), line, analysis, said, apart))
    _doubt_dates(lines, settled.tables.settings.date, findings)
    _doubt_terpenes(found, settled, findings)
    return tuple(found)


def _lines(settled: Reconciled, findings: Findings) -> dict[StockKey, BottleLine]:
    rows: dict[StockKey, list[BottleLine]] = {}
    quiet, doubts = Findings(), Doubts(findings)
    for line in settled.tables.bottles:
        material = settled.materials.find(line.material) or line.material
        key = StockKey(material, line.strength, settled.carrier(line.carrier, line.at, quiet), line.lot)
        if line.lot.casefold() == MADE:
            text = f'a lot cannot be called "{line.lot}": so are the dilutions that are made for the batch.'
            findings.error("reserved-name", text, line.at.at("lot"))
        rows.setdefault(key, []).append(line)
    return {key: _one(lines, settled, doubts, findings) for key, lines in rows.items()}


def _one(lines: list[BottleLine], settled: Reconciled, doubts: Doubts, findings: Findings) -> BottleLine:
    """Return the rows of one bottle as one: vials of it that differ in grams on hand alone are as many grams."""
    first, *others = lines
    if not others:
        return first
    for line in others:
        differs = _differs(first, line, settled)
        if differs and not doubts.row(line.at) and not doubts.row(first.at):
            findings.error(
                "duplicate-bottle",
                f"the same bottle (material, strength, carrier, lot) stands in row {first.at.row} already, "
                f"with another {differs}. Which is right? If both are, give each its lot.",
                line.at.at("material"),
            )
    if any(_differs(first, line, settled) or doubts.row(line.at) for line in lines):
        return first
    grams = [line.stock_g for line in lines]
    together = None if None in grams else float(sum(exact(g) for g in grams if g is not None))
    on_hand = "" if together is None else f", {together:g} g on hand"
    listed = ", ".join(str(line.at.row) for line in lines)
    findings.warn(
        "one-bottle", f"rows {listed} are the same bottle and taken as one{on_hand}.", first.at.at("material")
    )
    return first._replace(stock_g=together)


def _differs(one: BottleLine, other: BottleLine, settled: Reconciled) -> str:
    """Return the first column, grams on hand apart, in which two rows of one bottle differ; blank if none does."""
    for name, said in one._asdict().items():
        told = getattr(other, name)
        if name in OWN_TO_ROWS or said == told:
            continue
        known = [settled.names.find(text) for text in (said, told)] if name == "constituent" and said and told else []
        if not known or known[0] is None or known[0] != known[1]:
            return name
    return ""


def _content(key: StockKey, line: BottleLine, settled: Reconciled, opener: Opener, findings: Findings) -> Content:
    if settled.parts.get(settled.analysis(key.material, key.lot)):
        return dilute(opener.material(key.material, key.lot), key.strength, opener.carrier(key.carrier))
    if key.material not in settled.unread:
        near = [m for m in settled.materials.all() if settled.parts.get(m)]
        hint = settled.materials.nearest(key.material, near)
        findings.error(
            "no-composition",
            f'nothing says what "{key.material}" is made of. Give constituent and purity, or add its rows to '
            "the compositions, or the part undeclared with share 100." + did_you_mean(hint),
            line.at.at("material"),
        )
    return replace(UNKNOWN, materials={key.material: 1.0})


def _doubt_dates(lines: Mapping[StockKey, BottleLine], today: datetime.date, findings: Findings) -> None:
    """Say where a bottle is opened in the future, or keeps some months after nobody knows when."""
    no_date: list[tuple[Place, str]] = []
    for key, line in lines.items():
        if line.opened and line.opened > today:
            text = f"{key.material} is opened on {line.opened}, after the day of the study ({today})."
            findings.warn("date-ahead", text, line.at.at("opened"))
        if line.keeps_months and line.opened is None and not doubtful_cell(findings, line.at.at("opened")):
            no_date.append((line.at.at("opened"), "blank, so that keeps_months says nothing: its age is not checked"))
    findings.warn_once("no-date", no_date)


def _doubt_terpenes(bottles: list[Bottle], settled: Reconciled, findings: Findings) -> None:
    """Point out the bottles, mostly terpenes, that alone bear no date where others do; said once."""
    undated = []
    if all(bottle.line.opened is None for bottle in bottles):
        return
    for bottle in bottles:
        line = bottle.line
        if line.opened is None and line.keeps_months is None and _terpenes(bottle, settled) >= MOSTLY:
            place = line.at.at("opened")
            undated.append((place, "blank: it is mostly terpenes, which go stale in air; its age is not checked"))
    findings.warn_once("no-date", undated)


def _terpenes(bottle: Bottle, settled: Reconciled) -> float:
    known = {name: settled.names.find(name) for name in bottle.content.typical}
    held = (bottle.content.typical[name] for name, found in known.items() if found and found.formula == TERPENE)
    return math.fsum(held) / bottle.key.strength
