"""A study from its settled tables and its settings: what may be poured, the target's rows, rules and named amounts."""

from __future__ import annotations

from reaccord.domain.settings import Settings
from reaccord.domain.settled import Settled
from reaccord.domain.stock import Stock
from reaccord.domain.study import Study
from reaccord.domain.tables import Tables
from reaccord.findings import Findings, Place
from reaccord.study.prices import for_want_of
from reaccord.study.rules import named_amounts, rules
from reaccord.study.shelf import stock_shelf
from reaccord.study.target_entries import samples_of
from reaccord.study.target_rows import build_target, multiplied, on_shelf
from reaccord.tables.doubts import HEADINGS, Doubts, doubtful_cell


def assemble(
    tables: Tables, settled: Settled, settings: Settings, findings: Findings, was: Study | None = None
) -> Study:
    """Return the study; what it shares with `was`, of the same tables, is taken over.

    Raises
    ------
    InvalidInput
        With every error found so far; warnings come along.
    """
    shelf = stock_shelf(settled, settings, findings, was)
    samples, odorants = samples_of(settings, tables.samples), on_shelf(shelf.stocks, shelf.carriers)
    target = build_target(settled.target, samples, settings, odorants, findings)
    found = rules(settled.rules, settings, shelf.stocks, findings)
    materials = dict.fromkeys(bottle.key.material for bottle in settled.bottles)
    amounts = named_amounts(materials, settings, shelf.stocks, findings)
    _say_unpriced(settled, settings, shelf.stocks, findings)
    findings.raise_errors()
    return Study(
        settings=settings,
        target=multiplied(target, settled.multiples, settings.fit),
        stocks=shelf.stocks,
        rules=found,
        amounts=amounts,
        carriers=shelf.carriers,
        tables=tables,
        settled=settled,
        set_aside=shelf.set_aside,
        inputs=tables.inputs,
        warnings=findings.told("warning"),
    )


def _say_unpriced(settled: Settled, settings: Settings, stocks: tuple[Stock, ...], findings: Findings) -> None:
    """A blank price is an error where cost is limited; a column of blanks is one error."""
    if settings.limits.cost_per_kg is None:
        return
    column = "price_per_kg"
    lines = {bottle.key: bottle.line for bottle in settled.bottles}
    if all(line.price_per_kg is None for line in lines.values()):
        unread = any(doubtful_cell(findings, line.at.at(column)) for line in lines.values())
        if not unread and not Doubts(findings).table(settings.shelf.bottles):
            text = "cost is limited, but no bottle has a price: what do they cost per kg?"
            findings.error("blank", text, Place(settings.shelf.bottles, HEADINGS, column))
        return
    lacking = {bottle.key: bottle.price.lacking for bottle in settled.bottles}
    for stock in stocks:
        if stock.price_per_g is not None or stock.recipe is not None:  # a dilution's bottles speak for it
            continue
        place = lines[stock.key].at.at(column)
        if not doubtful_cell(findings, place):
            text = f"blank, but cost is limited: what does {stock.key.material} cost per kg?"
            findings.error("blank", text + for_want_of(lacking[stock.key]), place)
