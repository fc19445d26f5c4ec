"""The bottles as they stand there: each with what it holds and costs, whether or not it may be poured."""

from __future__ import annotations

import datetime
from collections.abc import Mapping

from reaccord.domain.lines import BottleLine
from reaccord.domain.settled import Bottle, TargetEntry
from reaccord.domain.stock import Content, StockKey
from reaccord.findings import Findings, Place
from reaccord.names.key import did_you_mean
from reaccord.study.composition import Opener, dilute
from reaccord.study.materials import Reconciled
from reaccord.study.prices import Prices
from reaccord.study.sums_apart import SumsApart
from reaccord.tables.doubts import Doubts, doubtful_cell

MADE = "made"
"""The lot of a stock that would be made for this batch."""


def bottles(
    settled: Reconciled, opener: Opener, target: tuple[TargetEntry, ...], findings: Findings
) -> tuple[Bottle, ...]:
    """Return the bottles in the order of their table."""
    lines, found, sums = _lines(settled, findings), [], SumsApart(settled, target)
    stands_for = {key.material: settled.stands_for(key.material) for key in lines}
    prices = Prices(lines, settled.parts, stands_for, opener.order)
    for key, line in lines.items():
        analysis, content = settled.analysis(key.material, key.lot), _content(key, line, settled, opener, findings)
        found.append(Bottle(key, content, prices.of(key, analysis), line, analysis, sums.of(analysis)))
    _doubt_dates(lines, settled.tables.settings.date, findings)
    return tuple(found)


def _lines(settled: Reconciled, findings: Findings) -> dict[StockKey, BottleLine]:
    bottles: dict[StockKey, BottleLine] = {}
    quiet, doubts = Findings(), Doubts(findings)
    for line in settled.tables.bottles:
        material = settled.materials.find(line.material) or line.material
        key = StockKey(material, line.strength, settled.carrier(line.carrier, line.at, quiet), line.lot)
        if line.lot.casefold() == MADE:
            text = f'a lot cannot be called "{line.lot}": so are the dilutions that are made for the batch.'
            findings.error("reserved-name", text, line.at.at("lot"))
        other = bottles.setdefault(key, line)
        if other is not line and not doubts.row(line.at) and not doubts.row(other.at):
            findings.error(
                "duplicate-bottle",
                f"the same bottle (material, strength, carrier, lot) stands in row {other.at.row} already.",
                line.at.at("material"),
            )
    return bottles


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
    return Content({}, {}, {key.material: 1.0}, 1.0)


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
