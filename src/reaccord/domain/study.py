"""A study, read and reconciled: all that is needed to judge or to solve."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from reaccord.domain.constituent import Constituent
from reaccord.domain.limits import NamedAmount, Rule, RuleClaim
from reaccord.domain.settings import Settings
from reaccord.domain.settled import Settled
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
    `carriers` are the substances that are no odorant in this study. `warnings` are the findings that did not stop the
    reading. `settled` is what `study.changed` goes back to, so that nobody reads `tables` again.
    """

    settings: Settings
    target: Target
    stocks: tuple[Stock, ...]
    rules: tuple[Rule, ...]
    amounts: tuple[NamedAmount, ...]
    carriers: frozenset[str]
    tables: Tables
    settled: Settled
    set_aside: tuple[SetAside, ...] = ()
    inputs: tuple[InputFile, ...] = ()
    warnings: tuple[Finding, ...] = ()

    @property
    def every_stock(self) -> tuple[Stock, ...]:
        """What may be poured, and after it what was set aside."""
        return (*self.stocks, *(item.stock for item in self.set_aside))

    @cached_property
    def by_key(self) -> Mapping[StockKey, Stock]:
        """Every stock by its key."""
        return {stock.key: stock for stock in self.every_stock}

    @property
    def title(self) -> str:
        """The study's own title."""
        return self.settings.title

    @property
    def date(self) -> datetime.date:
        """The day for which ages are counted."""
        return self.settings.date

    @property
    def constituents(self) -> Mapping[str, Constituent]:
        """All constituents known by name."""
        return self.settled.constituents

    @property
    def unknown(self) -> Mapping[str, tuple[Place, ...]]:
        """Those that neither the registry nor the constituents table knows: the first cell of each file."""
        return self.settled.unknown

    @property
    def asked(self) -> Mapping[str, tuple[str, ...]]:
        """Those of them that may mean known constituents, and which."""
        return self.settled.asked

    @property
    def lacking(self) -> Mapping[StockKey, str]:
        """Blends without a price, and which part of theirs has none."""
        return {bottle.key: bottle.price.lacking for bottle in self.settled.bottles if bottle.price.lacking}

    def claims(self) -> Iterator[RuleClaim]:
        """Yield what the rules claim, one after another."""
        return iter(self._claims)

    @cached_property
    def _claims(self) -> tuple[RuleClaim, ...]:
        return tuple(claim for rule in self.rules for claim in rule.claims())

    def stock(self, key: StockKey) -> Stock | None:
        """Return the stock with this identity, if it may be poured."""
        return next((stock for stock in self.stocks if stock.key == key), None)

    def __repr__(self) -> str:
        return f"<Study {self.title or 'without a title'!r}: {len(self.target.rows)} rows, {len(self.stocks)} stocks>"

    def _repr_html_(self) -> str:
        from reaccord import as_html  # a room far above, resolved by the package's top when somebody looks

        return as_html(self)
