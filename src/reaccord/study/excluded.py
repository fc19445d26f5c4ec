"""Bottles that must not be poured in this study: excluded, past their date, or too little left."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping

from reaccord.domain.lines import BottleLine
from reaccord.domain.settings import Settings
from reaccord.domain.settled import Bottle, RuleEntry
from reaccord.domain.stock import Stock, StockKey
from reaccord.findings import Findings, Place
from reaccord.study.conditions import unmet
from reaccord.study.materials import bottled


def set_aside(
    bottles: Iterable[Bottle],
    stocks: Mapping[StockKey, Stock],
    rules: Iterable[RuleEntry],
    settings: Settings,
    findings: Findings,
) -> dict[StockKey, str]:
    """Return the bottles that must not be poured, each with its reason."""
    bottles, rules = tuple(bottles), [entry for entry in rules if entry.line.condition]
    excluded = _excluded(settings, {bottle.key.material for bottle in bottles}, findings)
    reasons: dict[StockKey, str] = {}
    for bottle in bottles:
        always = bottle.use == "always"
        never = bottle.use == "never" or (bottle.key.material in excluded and not always)
        found = (
            "excluded" if never else "",
            _too_little(bottle.line, stocks[bottle.key], findings),
            _unmet(bottle, rules, settings, findings),
            "" if always else _overdue(bottle.line, bottle.key, settings, findings),
        )
        if any(found):
            reasons[bottle.key] = next(filter(None, found))
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


def _unmet(bottle: Bottle, rules: Iterable[RuleEntry], settings: Settings, findings: Findings) -> str:
    """Say which condition of a rule nothing says that this bottle fulfils; blank if none."""
    missing = unmet(bottle, rules, settings.limits.product)
    for rule, condition in missing:
        text = f'the rule "{rule}" asks for: {condition}. {bottle.key.material} is left out until its certificate '
        findings.warn("condition", f"{text}says so; then write it here.", bottle.line.at.at("conditions_met"))
    return f"not certified: {missing[0][1]}" if missing else ""


def _overdue(line: BottleLine, key: StockKey, settings: Settings, findings: Findings) -> str:
    if not _is_overdue(line, settings.date):
        return ""
    exclude = settings.shelf.overdue == "exclude"
    done = "left out." if exclude else 'still used. overdue = "exclude" leaves such bottles out.'
    findings.warn("overdue", f"{key.material} is past its date; {done}", line.at.at("opened"))
    return "past its date" if exclude else ""


def _excluded(settings: Settings, materials: set[str], findings: Findings) -> set[str]:
    place = Place(settings.file, column="limits.exclude")
    found = (bottled(text, materials, settings, place, findings) for text in settings.limits.exclude)
    return {material for material in found if material is not None}


def _is_overdue(line: BottleLine, today: datetime.date) -> bool:
    if line.opened is None or line.keeps_months is None:
        return False
    months = int(line.keeps_months)
    year, month = divmod(line.opened.month - 1 + months, 12)
    if line.opened.year + year > datetime.MAXYEAR:
        return False
    last = line.opened.replace(day=1, year=line.opened.year + year, month=month + 1)
    days = (line.opened.day - 1) + round((line.keeps_months - months) * 30.4375)
    return (today - last).days > days
