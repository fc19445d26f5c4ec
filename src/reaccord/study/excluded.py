"""Bottles that must not be poured in this study: excluded, past their date, or too little left; doubts about dates."""

from __future__ import annotations

import datetime
from collections.abc import Mapping

from reaccord.domain.lines import BottleLine
from reaccord.domain.stock import Stock, StockKey
from reaccord.findings import Findings, Place
from reaccord.study.materials import Reconciled
from reaccord.tables.doubts import doubtful_cell


def set_aside(
    settled: Reconciled,
    bottles: Mapping[StockKey, BottleLine],
    stocks: Mapping[StockKey, Stock],
    findings: Findings,
) -> dict[StockKey, str]:
    """Return the bottles that must not be poured, each with its reason."""
    excluded = _excluded(settled, {key.material for key in bottles}, findings)
    reasons: dict[StockKey, str] = {}
    for key, line in bottles.items():
        found = (
            "excluded" if key.material in excluded else "",
            _too_little(line, stocks[key], findings),
            _overdue(line, key, settled, findings),
        )
        if any(found):
            reasons[key] = next(filter(None, found))
    return reasons


def _too_little(line: BottleLine, stock: Stock, findings: Findings) -> str:
    if stock.maximum_g >= stock.minimum_g and stock.maximum_g > 0:
        return ""
    if line.stock_g:
        least = f"less than can be weighed ({stock.minimum_g:g} g)"
        text = f"{line.stock_g:g} g of {stock.key.material} are {least}; left out."
        reason = "less left than can be weighed"
    else:
        text, reason = f"{stock.key.material} is used up; left out.", "used up"
    findings.warn("too-little-left", text, line.at.at("stock_g"))
    return reason


def _overdue(line: BottleLine, key: StockKey, settled: Reconciled, findings: Findings) -> str:
    if not _is_overdue(line, settled):
        return ""
    exclude = settled.tables.settings.shelf.overdue == "exclude"
    done = "left out." if exclude else 'still used. overdue = "exclude" leaves such bottles out.'
    findings.warn("overdue", f"{key.material} is past its date; {done}", line.at.at("opened"))
    return "past its date" if exclude else ""


def _excluded(settled: Reconciled, bottled: set[str], findings: Findings) -> set[str]:
    settings = settled.tables.settings
    excluded = set()
    for text in settings.limits.exclude:
        material = settled.bottled(text, bottled, Place(settings.file, column="limits.exclude"), findings)
        if material is not None:
            excluded.add(material)
    return excluded


def _is_overdue(line: BottleLine, settled: Reconciled) -> bool:
    if line.opened is None or line.keeps_months is None:
        return False
    months = int(line.keeps_months)
    year, month = divmod(line.opened.month - 1 + months, 12)
    if line.opened.year + year > datetime.MAXYEAR:
        return False
    last = line.opened.replace(day=1, year=line.opened.year + year, month=month + 1)
    days = (line.opened.day - 1) + round((line.keeps_months - months) * 30.4375)
    return (settled.tables.settings.date - last).days > days


def doubt_dates(bottles: Mapping[StockKey, BottleLine], today: datetime.date, findings: Findings) -> None:
    """Say where a bottle is opened in the future, or keeps some months after nobody knows when."""
    no_date: list[tuple[Place, str]] = []
    for key, line in bottles.items():
        if line.opened and line.opened > today:
            text = f"{key.material} is opened on {line.opened}, after the day of the study ({today})."
            findings.warn("date-ahead", text, line.at.at("opened"))
        if line.keeps_months and line.opened is None and not doubtful_cell(findings, line.at.at("opened")):
            no_date.append((line.at.at("opened"), "blank, so that keeps_months says nothing: its age is not checked"))
    findings.warn_once("no-date", no_date)
