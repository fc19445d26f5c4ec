"""What the shelf is the reason of: nothing holds it, it is set aside, more of it could be poured."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reaccord.answer.judge import Judgement, Residual, judge
from reaccord.answer.why.reason import Code, Reason, nearer, twin
from reaccord.domain.stock import Stock
from reaccord.domain.study import SetAside, Study
from reaccord.study.smallest_mass import grams_of

MUCH_PURER = 5.0
"""A source that must not be poured is worth a word if it is so much purer than the best that may."""


@dataclass(frozen=True)
class Shelf:
    """The shelf of a study seen from one formula."""

    study: Study
    judged: Judgement

    def shortfall(self, residual: Residual, *, optimised: bool) -> Reason | None:
        """Return why a row is short, as far as the shelf tells; of a given formula also what would bring it."""
        members = residual.row.members
        holding = [stock for stock in self.study.stocks if held(members, stock) > 0]
        if not holding:
            return self._no_source(residual)
        said = self._purer_aside(residual, holding)
        return said or (None if optimised else self._more(residual, best(members, holding)))

    def _no_source(self, residual: Residual) -> Reason:
        members, label = residual.row.members, residual.row.label
        first = self.best_aside(members)
        if first is None:
            said = self._in_a_sum(members)
            return Reason(label, "set_aside" if said else "no_source", said or "no bottle holds it")
        name = first.stock.key.material
        only = all(item.stock.key.material == name for item in self._aside(members))
        said = f"only {name} holds it: {first.reason}" if only else f"best source {name}: {first.reason}"
        return Reason(label, "set_aside", said)

    def best_aside(self, members: frozenset[str]) -> SetAside | None:
        """Return the purest source that must not be poured."""
        return max(self._aside(members), key=lambda item: (purity(members, item.stock), item.stock.key), default=None)

    def _aside(self, members: frozenset[str]) -> list[SetAside]:
        return [item for item in self.study.set_aside if item.stock.recipe is None and held(members, item.stock) > 0]

    def _in_a_sum(self, members: frozenset[str]) -> str:
        """Name a bottle set aside that states a sum these belong to, and no more."""
        known = self.study.constituents
        sums = {name for name, one in known.items() if not members.isdisjoint(one.members)}
        for item in self.study.set_aside:
            if not sums.isdisjoint(item.stock.content.typical):
                return f"{item.stock.key.material} may hold it, but is set aside: {item.reason}"
        return ""

    def _purer_aside(self, residual: Residual, holding: Sequence[Stock]) -> Reason | None:
        """Name the purest source that must not be poured, if it is much purer."""
        members = residual.row.members
        item = self.best_aside(members)
        if item is None or purity(members, item.stock) <= max(
            MUCH_PURER * purity(members, best(members, holding)), 0.1
        ):
            return None
        said = f"{item.stock.key.material}, much purer than what may be poured, is set aside: {item.reason}"
        return Reason(residual.row.label, "set_aside", said)

    def _more(self, residual: Residual, stock: Stock) -> Reason | None:
        """Of a formula that nothing optimised: so much more of its best source brings a row; what holds that back."""
        row, total = residual.row, self.judged.totals.accord_g
        wanted = residual.achieved - residual.residual
        brings = held(row.members, stock) - wanted * basis_of(self.study, stock)
        if brings <= 0:
            return None
        grams = -residual.residual * total / brings
        if grams > total:  # that would be another accord
            return None
        poured = {line.stock.key: line.grams for line in self.judged.lines}
        there = poured.get(stock.key, 0.0)
        grams = _on_grid(stock, there + grams) - there
        then = judge(self.study, poured | {stock.key: there + grams})
        gain = nearer(residual, twin(then, residual))
        if not gain:
            return None
        code: Code = "more_would"
        said = f"{figure(grams)} g more of {stock.label} would bring it"
        broken = {state.key for state in self.judged.broken}
        held_back = [state.label for state in then.broken if state.key not in broken]
        if held_back:
            return Reason(row.label, code, f"{said}, but not within the limit {held_back[0]}", gain)
        if then.closeness.value >= self.judged.closeness.value:
            return Reason(row.label, code, f"{said}, and put others farther off", gain)
        return Reason(row.label, code, f"{said}; nothing holds that back", gain)


def _on_grid(stock: Stock, grams: float) -> float:
    """Return whole steps of the balance, what can be weighed at least."""
    step = stock.step_g
    return max(grams_of(math.floor(grams / step + 0.5), step), stock.minimum_g) if step > 0 else grams


def held(members: frozenset[str], stock: Stock) -> float:
    """Return the gram of some constituents in a gram of stock."""
    typical = stock.content.typical
    return (
        0.0 if members.isdisjoint(typical) else sum(typical.get(name, 0.0) for name in sorted(members & set(typical)))
    )


def purity(members: frozenset[str], stock: Stock) -> float:
    """Return the part of some constituents in what of a stock is no carrier."""
    return held(members, stock) / stock.active if stock.active > 0 else 0.0


def best(members: frozenset[str], holding: Sequence[Stock]) -> Stock:
    """Return the purest source."""
    return max(holding, key=lambda stock: (round(purity(members, stock), 9), stock.key.strength, stock.key))


def basis_of(study: Study, stock: Stock) -> float:
    """Return the gram of what counts as accord in a gram of stock."""
    if study.target.rest == "open":
        return stock.odorant
    return held(frozenset(name for row in study.target.rows if row.kind == "named" for name in row.members), stock)


def figure(value: float) -> str:
    """Write a number in two figures, or as a whole one."""
    return f"{value:.0f}" if value >= 10 else f"{value:.2g}" if value < 1 else f"{value:.1f}"
