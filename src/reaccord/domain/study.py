"""A study, read and reconciled: all that is needed to judge or to solve."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from reaccord.domain.constituent import Constituent
from reaccord.domain.limits import NamedAmount, Rule, RuleClaim
from reaccord.domain.settings import Settings
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.tables import InputFile, Tables
from reaccord.domain.target import Target
from reaccord.findings import Finding, Place


@dataclass(frozen=True)
class SetAside:
    """A stock that must not be poured in this study, and why."""

    stock: Stock
    reason: str


@dataclass(frozen=True)
class Study:
    """Everything a fit needs.

    `stocks` (sorted by key) are what may be poured; `set_aside` are the excluded, overdue and empty ones.
    `carriers` are the substances that are no odorant in this study, `constituents` all that is known by
    name. `warnings` are the findings that did not stop the reading. `lacking` says of blends without a price which
    part of theirs has none. `unknown` are the constituents that neither the registry nor the constituents table
    knows, with the first cell of each file they stand in; `asked` are those of them that may mean known
    constituents, and which.
    """

    settings: Settings
    target: Target
    stocks: tuple[Stock, ...]
    rules: tuple[Rule, ...]
    amounts: tuple[NamedAmount, ...]
    carriers: frozenset[str]
    constituents: Mapping[str, Constituent]
    tables: Tables
    set_aside: tuple[SetAside, ...] = ()
    inputs: tuple[InputFile, ...] = ()
    warnings: tuple[Finding, ...] = ()
    lacking: Mapping[StockKey, str] = field(default_factory=dict)
    unknown: Mapping[str, tuple[Place, ...]] = field(default_factory=dict)
    asked: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """The study's own title."""
        return self.settings.title

    @property
    def date(self) -> datetime.date:
        """The day for which ages are counted."""
        return self.settings.date

    def claims(self) -> Iterator[RuleClaim]:
        """Yield what the rules claim, one after another."""
        for rule in self.rules:
            yield from rule.claims()

    def stock(self, key: StockKey) -> Stock | None:
        """Return the stock with this identity, if it may be poured."""
        return next((stock for stock in self.stocks if stock.key == key), None)
