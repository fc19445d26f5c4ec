"""Stocks by what a person calls them: the name on the label, with strength or lot where a name has several."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from reaccord.domain.stock import Stock, StockKey
from reaccord.findings import UsageError
from reaccord.names.key import did_you_mean, name_key, nearest


def stock_called(text: str, stocks: Iterable[Stock], preferred: Collection[StockKey], option: str) -> Stock:
    """Return the stock that goes by a name; of several the one of those `preferred`.

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
    found = [s for s in found if s.key in preferred] or found
    if len(found) > 1:
        labels = ", ".join(f'"{s.label}"' for s in sorted(found, key=lambda s: s.key)[:4])
        raise UsageError(f'{option}: "{text}" could be {labels}. Write one of these.')
    return found[0]


def _names(stock: Stock) -> set[str]:
    """Return what a stock may be called, as keys."""
    material, strength, carrier, lot = stock.key
    strong = (
        [material] if strength == 1 else [f"{material} {strength * 100:.12g} %", f"{material}, {strength * 100:g} %"]
    )
    strong += [f"{name} in {carrier}" for name in strong if strength < 1]
    names = {material, *strong, *(f"{name} {lot}" for name in strong), *(f"{name} ({lot})" for name in strong)}
    return {name_key(name) for name in names}
