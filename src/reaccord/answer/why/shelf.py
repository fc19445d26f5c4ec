"""What the shelf is the reason of: nothing holds it, it is set aside, it comes with much that is not wanted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from reaccord.answer.judge import Judgement, Residual, judge
from reaccord.answer.why.reason import Code, Reason, nearer
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study

MUCH_PURER = 5.0
"""A source that must not be poured is worth a word if it is so much purer than the best that may."""
OPPOSED = 0.8
"""Part of the good of a gram more that the harm must undo, to be what keeps a bottle out."""
NOISE = 1e-12
WORTH_NAMING = 0.1
"""Of the harm: a row that makes less of it is not named,"""
NAMED = 2
"""and so many are."""


@dataclass(frozen=True)
class Shelf:
    """The shelf of a study seen from one formula; what a gram more of each stock does is kept."""

    study: Study
    judged: Judgement
    _moves: dict[StockKey, list[tuple[float, Residual]]] = field(default_factory=dict)

    def shortfall(self, residual: Residual, *, optimised: bool) -> Reason | None:
        """Return why a row is short, as far as the shelf tells; of a given formula also what would bring it."""
        members = residual.row.members
        holding = [stock for stock in self.study.stocks if held(members, stock) > 0]
        if not holding:
            return self._no_source(residual)
        said = self._better_aside(residual, holding)
        if said is None and not optimised:
            said = self._more(residual, best(members, holding))
        return said or self._baggage(residual, holding)

    @cached_property
    def wanted(self) -> frozenset[str]:
        """What the target names."""
        return frozenset(name for row in self.study.target.rows if row.kind == "named" for name in row.members)

    def _no_source(self, residual: Residual) -> Reason:
        members, label = residual.row.members, residual.row.label
        aside = [item for item in self.study.set_aside if item.stock.recipe is None and held(members, item.stock) > 0]
        if not aside:
            said = self._in_a_sum(members)
            return Reason(label, "set_aside" if said else "no_source", said or "no bottle holds it")
        first = max(aside, key=lambda item: (purity(members, item.stock), item.stock.key))
        only = len({item.stock.key.material for item in aside}) == 1
        name = first.stock.key.material
        said = f"only {name} holds it: {first.reason}" if only else f"best source {name}: {first.reason}"
        return Reason(label, "set_aside", said)

    def _in_a_sum(self, members: frozenset[str]) -> str:
        """Name a bottle set aside that states a sum these belong to, and no more."""
        known = self.study.constituents
        sums = {name for name, one in known.items() if not members.isdisjoint(one.members)}
        for item in self.study.set_aside:
            if not sums.isdisjoint(item.stock.content.typical):
                return f"{item.stock.key.material} may hold it, but is set aside: {item.reason}"
        return ""

    def _better_aside(self, residual: Residual, holding: Sequence[Stock]) -> Reason | None:
        """Name a much purer source that must not be poured."""
        members = residual.row.members
        least = max(MUCH_PURER * purity(members, best(members, holding)), 0.1)
        for item in self.study.set_aside:
            if item.stock.recipe is None and purity(members, item.stock) > least:
                name = item.stock.key.material
                return Reason(
                    residual.row.label, "set_aside", f"{name} would bring it, but is set aside: {item.reason}"
                )
        return None

    def _baggage(self, residual: Residual, holding: Sequence[Stock]) -> Reason | None:
        """Say what comes with the purest source, where that undoes most of the good a gram more of it would do."""
        members = residual.row.members
        source = best(members, holding)
        pushed = self._pushed(source)
        good, bad = (math.fsum(sign * move for move, _ in pushed if sign * move > 0) for sign in (-1, 1))
        if good <= NOISE or bad < OPPOSED * good:
            return None
        brought = sorted(((-move, one) for move, one in pushed if move >= WORTH_NAMING * bad), key=lambda item: item[0])
        share = {one.row.label: self._gram(source, one) / held(members, source) for _, one in brought}
        over = [one for _, one in brought if one.residual > 0 and share[one.row.label] > 0][:NAMED]
        if not over:
            return None
        said = " and ".join(f"{_figure(share[one.row.label])} points of {_called(one)}" for one in over)
        aside = [item.stock for item in self.study.set_aside if held(members, item.stock) > 0]
        name = source.key.material
        only = len({stock.key.material for stock in (*holding, *aside)}) == 1
        who = f"only {name} brings it" if only else f"best source {name}"
        return Reason(residual.row.label, "baggage", f"{who}: a point of it comes with {said}")

    def _pushed(self, stock: Stock) -> list[tuple[float, Residual]]:
        """Return how a gram more of a stock first moves the part of the deviation each row makes."""
        if stock.key not in self._moves:
            ground = self._basis(stock)
            squares = self.study.settings.fit.measure == "squares"
            slopes = [r.scaled if squares else _sign(r.scaled) for r in self.judged.residuals]
            self._moves[stock.key] = [
                (r.row.factor * slope * (self._gram(stock, r) - r.achieved * ground), r)
                for r, slope in zip(self.judged.residuals, slopes, strict=True)
                if slope
            ]
        return self._moves[stock.key]

    def _gram(self, stock: Stock, residual: Residual) -> float:
        return stock.content.undeclared if residual.kind == "undeclared" else held(residual.row.members, stock)

    def _basis(self, stock: Stock) -> float:
        return stock.odorant if self.study.target.rest == "open" else held(self.wanted, stock)

    def _more(self, residual: Residual, stock: Stock) -> Reason | None:
        """Of a formula that nothing optimised: so much more of its best source brings a row; what holds that back."""
        row, total = residual.row, self.judged.totals.accord_g
        wanted = residual.achieved - residual.residual
        brings = held(row.members, stock) - wanted * self._basis(stock)
        if brings <= 0:
            return None
        grams = -residual.residual * total / brings
        poured = {line.stock.key: line.grams for line in self.judged.lines}
        then = judge(self.study, poured | {stock.key: poured.get(stock.key, 0.0) + grams})
        gain = nearer(residual, next(r for r in then.residuals if r.row.label == row.label))
        if not gain:
            return None
        code: Code = "more_would"
        said = f"{_figure(grams)} g more of {stock.label} would bring it"
        broken = {state.key for state in self.judged.broken}
        held_back = [state.label for state in then.broken if state.key not in broken]
        if held_back:
            return Reason(row.label, code, f"{said}, but not within the limit {held_back[0]}", gain)
        if then.closeness.value >= self.judged.closeness.value:
            return self._baggage(residual, [stock]) or Reason(
                row.label, code, f"{said}, and put others farther off", gain
            )
        return Reason(row.label, code, f"{said}; nothing holds that back", gain)


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
    return max(holding, key=lambda stock: (purity(members, stock), stock.key.strength, stock.key))


def _called(residual: Residual) -> str:
    return "what nobody declares" if residual.kind == "undeclared" else residual.row.label


def _sign(value: float) -> float:
    return math.copysign(1.0, value) if value else 0.0


def _figure(value: float) -> str:
    return f"{value:.0f}" if value >= 10 else f"{value:.2g}" if value < 1 else f"{value:.1f}"
