"""What may be added to grams already poured, stated as a programme whose batch may grow.

With `p_i` gram poured of stock `i`, `a_i` gram added (0, or at least the smallest that can be weighed) and a batch of
`G` gram of basis, shares are `sum_i content_i (p_i + a_i) / G`. In `w_i = a_i / G` and `t = 1 / G` that is linear,
and what is poured already is one more column: a bottle of which `P t` is used, `P` being all grams poured, and of
which some must be. Limits in gram (`<= most`) become `<= most t`. So the programme is an ordinary one; only minima
and grams on hand, which are `m_i t` and `u_i t`, need a row each: those stand there for stocks of which an answer
would break one. Amounts are stated for a batch of `batch_g`, whatever the batch becomes: all times `batch_g / G`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from reaccord.contract import FloatArray, LimitRow, Made, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.programme import state

ALREADY = LimitKey("made", ("already poured",))
"""That what is poured stays in the vial is no limit that anybody could let go of."""
NOISE = 1e-9
"""Relative, as of a formula's amounts."""


@dataclass(frozen=True)
class Range:
    """Gram of basis that the batch may come to."""

    least_g: float
    most_g: float


class Statement:
    """A study's programme with what is poured already; its last column is that, those before it can be added.

    stocks
        What may be added, columns in their order.
    poured_g
        All grams poured.
    """

    def __init__(self, study: Study, stocks: Iterable[Stock], poured: Mapping[StockKey, float]) -> None:
        whole = state(study)
        self.poured_g = math.fsum(poured.values())
        self._whole = whole
        p = np.zeros(len(whole.columns))
        p[: len(study.stocks)] = [poured.get(stock.key, 0.0) for stock in study.stocks]
        self._p = p
        keys = {stock.key for stock in stocks}
        place = [i for i, stock in enumerate(study.stocks) if stock.key in keys]
        self.stocks = tuple(study.stocks[i] for i in place)
        helpers = [made for made in whole.made if made.stock in set(place)]
        self._kept = np.array([*place, *(made.column for made in helpers)], dtype=np.intp)
        self._made = {made.column: made for made in whole.made}
        self._column = {int(old): new for new, old in enumerate(self._kept)}
        for made in whole.made:  # a dilution that is poured and of which no more may be
            if made.column not in self._column and p[made.stock] > 0:
                p[made.column] = max(p[made.stock], made.least_g)
        self.basis_g = float(whole.basis @ p)
        needed = [s.recipe.needed_g if s.recipe else math.inf for s in self.stocks]
        left = np.array([s.maximum_g for s in self.stocks]) - p[place]
        self.least = np.array([s.minimum_g for s in self.stocks])
        self.most = np.minimum(np.maximum(left, 0.0), needed)
        self.most[self.most < self.least * (1 - NOISE)] = 0.0

    def growing(self, batch_g: float, within: Range, rows: Iterable[int] = ()) -> Programme:
        """Return the programme for any batch `within`, stated for `batch_g`.

        `rows` are the stocks whose ends have rows of their own. Without these it is a relaxation: minima are those of
        the largest batch, grams on hand those of the smallest.
        """
        few, many = batch_g / within.most_g, batch_g / within.least_g
        limits = [*self._limits(many), self._stays(self.poured_g * few), *self._own_rows(rows, many)]
        return self._programme(batch_g, (self.least * few, self.most * many), limits, self.poured_g * many)

    def at(self, accord_g: float) -> Programme:
        """Return the programme of one batch in gram, on the balance's grid; its helper columns are what is made anew.

        Of a dilution that was poured already all that is added counts as made anew.
        """
        limits = [*self._limits_in_grams(), self._stays(self.poured_g)]
        programme = self._programme(accord_g, (self.least, self.most), limits, self.poured_g)
        n = len(self.stocks)
        steps = np.zeros(len(programme.columns))
        steps[:n] = [stock.step_g for stock in self.stocks]
        made = tuple(
            Made(self._column[made.stock], self._column[column], made.least_g)
            for column, made in self._made.items()
            if column in self._column and self._p[made.stock] == 0
        )
        return replace(programme, step=steps, made=made)

    def additions(self, programme: Programme, amounts: FloatArray, accord_g: float) -> FloatArray:
        """Return gram added of each stock for a batch of so many gram, from amounts of its programme."""
        grams: FloatArray = amounts[: len(self.stocks)] * (accord_g / programme.batch_g)
        return grams

    def batch_of(self, programme: Programme, amounts: FloatArray) -> float:
        """Return the batch that amounts of a growing programme are of."""
        return float(self.poured_g / amounts[-1] * programme.batch_g)

    def broken(self, programme: Programme, amounts: FloatArray) -> list[int]:
        """Return the stocks whose minimum or grams on hand an answer to a growing programme breaks."""
        accord_g = self.batch_of(programme, amounts)
        grams = self.additions(programme, amounts, accord_g)
        slack = NOISE * max(accord_g, self.poured_g)
        below = (grams > 0) & (grams < self.least * (1 - NOISE) - slack)
        return [int(i) for i in np.flatnonzero(below | (grams > self.most * (1 + NOISE) + slack))]

    def _programme(
        self, batch_g: float, ends: tuple[FloatArray, FloatArray], limits: list[LimitRow], poured: float
    ) -> Programme:
        whole, n = self._whole, len(self.stocks)
        helpers = len(self._kept) - n
        per_gram = self._p / self.poured_g
        last = len(self._kept)
        strengths = (
            tuple(tuple(self._column[i] for i in same if i in self._column) for same in material)
            for material in whole.strengths
        )
        kept = (tuple(same for same in material if same) for material in strengths)
        return Programme(
            columns=(*(whole.columns[i] for i in self._kept), "already poured"),
            rows=whole.rows,
            content=np.column_stack([whole.content[:, self._kept], whole.content @ per_gram]),
            low=whole.low,
            high=whole.high,
            factor=whole.factor,
            basis=np.append(whole.basis[self._kept], whole.basis @ per_gram),
            batch_g=batch_g,
            minimum=np.concatenate([ends[0], np.zeros(helpers), [self._least_of(limits, last)]]),
            maximum=np.concatenate([ends[1], np.full(helpers, math.inf), [poured]]),
            limits=tuple(limits),
            strengths=tuple(material for material in kept if len(material) > 1),
            measure=whole.measure,
        )

    @staticmethod
    def _least_of(limits: Iterable[LimitRow], last: int) -> float:
        return next(-row.most for row in limits if row.key == ALREADY and row.amounts[last])

    def _stays(self, least: float) -> LimitRow:
        amounts = np.zeros(len(self._kept) + 1)
        amounts[-1] = -1.0
        return LimitRow(ALREADY, "already poured", "already poured", amounts, np.zeros(len(amounts)), -least)

    def _parts(self, row: LimitRow) -> tuple[FloatArray, FloatArray, float, float]:
        """Return a row over the columns kept: amounts and uses added, and what is poured already of both."""
        already = self._p > 0
        amounts, used = np.append(row.amounts[self._kept], 0.0), np.append(row.used[self._kept], 0.0)
        used[:-1][already[self._kept]] = 0.0
        return amounts, used, float(row.amounts @ self._p), float(row.used[already].sum())

    def _limits(self, many: float) -> Iterator[LimitRow]:
        """Yield the study's limits in scaled amounts, `many` being the largest that a gram comes to."""
        for row in self._whole.limits:
            amounts, used, poured, count = self._parts(row)
            if row.key.kind == "made":
                yield from self._made_rows(row, many)
            elif not row.amounts.any():
                yield replace(row, amounts=amounts, used=used, most=row.most - count)
            else:
                amounts[-1] = (poured - row.most) / self.poured_g
                yield replace(row, amounts=amounts, used=used, most=0.0)

    def _made_rows(self, row: LimitRow, many: float) -> Iterator[LimitRow]:
        """Grams made M_i >= p_i + a_i; M_i >= least_i if any is poured or added; both times the scale of the batch."""
        column = int(np.flatnonzero(row.amounts < 0)[0])
        if column not in self._column:
            return
        amounts, none = np.zeros(len(self._kept) + 1), np.zeros(len(self._kept) + 1)
        amounts[self._column[column]] = -1.0
        stock, p = self._made[column].stock, self._p[self._made[column].stock]
        if row.amounts.max() > 0:
            amounts[self._column[stock]], amounts[-1] = 1.0, p / self.poured_g
            yield replace(row, amounts=amounts, used=none, most=0.0)
            return
        least = self._made[column].least_g
        amounts[-1] = least / self.poured_g
        if p == 0:
            none[self._column[stock]] = least * many
        yield replace(row, amounts=amounts, used=none, most=float(none.sum()))

    def _limits_in_grams(self) -> Iterator[LimitRow]:
        """Yield the study's limits for one batch, what is poured taken off."""
        anew = {c: self._p[made.stock] == 0 for c, made in self._made.items()}
        for row in self._whole.limits:
            amounts, used, poured, count = self._parts(row)
            if row.key.kind == "made":
                column = int(np.flatnonzero(row.amounts < 0)[0])
                if column in self._column and anew[column]:
                    yield replace(row, amounts=amounts, used=used)
                continue
            for column, made in self._made.items():
                if row.amounts[column] and not anew[column] and column in self._column:
                    poured += row.amounts[column] * max(self._p[made.stock], made.least_g)
                    amounts[self._column[made.stock]] += row.amounts[column]
                    amounts[self._column[column]] = 0.0
            amounts[-1] = poured / self.poured_g
            yield replace(row, amounts=amounts, used=used, most=row.most - count)

    def _own_rows(self, rows: Iterable[int], many: float) -> Iterator[LimitRow]:
        """a_i = 0 or least_i <= a_i, and a_i <= most_i, times the scale of the batch."""
        for i in sorted(rows):
            subject = self.stocks[i].key.subject
            amounts, used = np.zeros(len(self._kept) + 1), np.zeros(len(self._kept) + 1)
            label = f"{self.stocks[i].label}: smallest weighable"
            amounts[i], amounts[-1] = -1.0, self.least[i] / self.poured_g
            used[i] = self.least[i] * many
            yield LimitRow(LimitKey("smallest", subject), label, label, amounts, used, float(used[i]))
            if math.isfinite(self.most[i]):
                label = f"{self.stocks[i].label}: on hand"
                amounts = np.zeros(len(amounts))
                amounts[i], amounts[-1] = 1.0, -self.most[i] / self.poured_g
                yield LimitRow(LimitKey("on hand", subject), label, label, amounts, np.zeros(len(amounts)), 0.0)
