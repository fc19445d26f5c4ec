"""Stocks by what a person calls them: the name on the label, with strength or lot where a name has several."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from reaccord.domain.stock import Stock, StockKey
from reaccord.findings import UsageError
from reaccord.names.key import did_you_mean, name_key, nearest


def stock_called(text: str, stocks: Iterable[Stock], preferred: Collection[StockKey], option: str) -> Stock:
    """Return the stock that goes by a name; of several the one `preferred`, else the bottle.

    Raises
    ------
    UsageError
        If none does, or several do.
    """
    listed, wanted = list(stocks), name_key(text)
    found = [s for s in listed if wanted == name_key(s.label)] or [s for s in listed if wanted in _names(s)]
    if not found:
        hint = nearest(text, sorted({s.key.material for s in listed}))
        raise UsageError(f'{option}: no bottle is called "{text}".{did_you_mean(hint)}')
    found = [s for s in found if s.key in preferred] or [s for s in found if s.recipe is None] or found
    if len(found) > 1:
        labels = ", ".join(f'"{s.label}"' for s in sorted(found, key=lambda s: s.key)[:4])
        raise UsageError(f'{option}: "{text}" could be {labels}. Write one of these.')
    return found[0]


def planned_dilution(text: str, stocks: Iterable[Stock], plan: Collection[StockKey]) -> Stock | None:
    """Return the dilution of a plan that a name without a strength may mean, as it may mean the neat bottle.

    None where a neat one is planned, none stands there, or the name says the strength.
    """
    named = [s for s in stocks if name_key(text) in _names(s)]
    planned = [s for s in named if s.key in plan]
    if all(s.key.strength < 1 for s in named) or any(s.key.strength == 1 for s in planned):
        return None
    return min(planned, key=lambda s: s.key, default=None)


def _names(stock: Stock) -> set[str]:
    """Return what a stock may be called, as keys."""
    material, strength, carrier, lot = stock.key
    strong = [f"{material} {strength * 100:.12g} %", f"{material}, {strength * 100:g} %"]
    strong += [material] if strength == 1 else [f"{name} in {carrier}" for name in strong]
    names = {material, *strong, *(f"{name} {lot}" for name in strong), *(f"{name} ({lot})" for name in strong)}
    return {name_key(name) for name in names}
