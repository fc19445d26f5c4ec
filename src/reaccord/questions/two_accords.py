"""Two accords with one base as one programme: so much of each stock in both, and what each takes besides.

Columns are the stocks three times, the base, the tail of the first, the tail of the second, then the grams made of
dilutions. Gram of the base count in both accords, and twice where grams on hand are counted. Rows of both targets stand
below each other, so that squares and absolute deviations add up and the worst is the worst of both. The batch of the
second accord is two limits, at least and at most so much.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from reaccord.contract import FloatArray, LimitRow, Made, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.study import Study
from reaccord.programme import state
from reaccord.study.changed import with_keys

TOGETHER = frozenset({"made", "on hand", "dilutions"})
"""Limits on both accords together; the others are on each for itself."""


@dataclass(frozen=True)
class TwoAccords:
    """The programme; `stocks` of each part, `first` and `second` are the programmes of the accords alone."""

    programme: Programme
    stocks: int
    first: Programme
    second: Programme

    def parts(self, found: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the base and the tails, gram (stocks,) each in one accord."""
        n = self.stocks
        return found[:n], found[n : 2 * n], found[2 * n : 3 * n]

    def weighable(self, found: FloatArray) -> Programme:
        """Return the programme in which amounts (n,) are rounded: the second batch may be missed by a step a line.

        Grams made are as much as is poured; where less cannot be made, that is left to be checked.
        """
        n, steps = self.stocks, np.where(found > 0, self.programme.step, 0.0)[: 3 * self.stocks]
        missed = float(steps[:n].sum() + steps[2 * n :].sum())
        limits = []
        for row in self.programme.limits:
            if row.key.kind in ("made", "dilutions"):  # which are made stays as it is
                continue
            amounts = row.amounts[: 3 * n].copy()
            for made in self.programme.made:
                amounts[made.stock] += 2 * row.amounts[made.column]
                amounts[[n + made.stock, 2 * n + made.stock]] += row.amounts[made.column]
            kept = replace(row, amounts=amounts, used=row.used[: 3 * n])
            if row.key == SECOND:
                kept = replace(kept, most=row.most + missed)
            limits.append(kept)
        whole = self.programme.only(np.arange(3 * n))
        return replace(whole, limits=tuple(limits), made=())


SECOND = LimitKey("lines", ("second batch",))


def two_accords(first: Study, second: Study, lines: int) -> TwoAccords:
    """Return the programme of two studies of one shelf, with at most so many lines in all."""
    one, other, n = state(first), state(second), len(first.stocks)
    makings = _makings(first, second)
    place = _Places(n, sum(len(each.columns) - n for each in makings))
    limits = [place.of_each(row, in_first=True) for row in one.limits if row.key.kind not in TOGETHER]
    limits += [place.of_each(row, in_first=False) for row in other.limits if row.key.kind not in TOGETHER]
    made, begin = [], 3 * n
    for each in makings:
        limits += [row for each_row in each.limits for row in place.of_both(each_row, begin)]
        made += [Made(m.stock, begin + m.column - n, m.least_g) for m in each.made]
        begin += len(each.columns) - n
    limits += [*place.on_hand(first), *place.second_batch(other.basis, one.batch_g), place.in_all(lines)]
    zero = np.zeros(n)
    programme = Programme(
        columns=(
            *(f"{part}: {stock.label}" for part in ("base", "first", "second") for stock in first.stocks),
            *(f"{k}: {name}" for k, each in enumerate(makings) for name in each.columns[n:]),
        ),
        rows=(*one.rows, *other.rows),
        content=np.vstack(
            [
                [place.spread(row, row, zero) for row in one.content],
                [place.spread(row, zero, row) for row in other.content],
            ]
        ),
        low=np.concatenate([one.low, other.low]),
        high=np.concatenate([one.high, other.high]),
        factor=np.concatenate([one.factor, other.factor]),
        basis=place.spread(one.basis, one.basis, zero),
        batch_g=one.batch_g,
        minimum=place.spread(one.minimum, one.minimum, one.minimum),
        maximum=place.spread(one.maximum, one.maximum, one.maximum, math.inf),
        limits=tuple(limits),
        strengths=tuple(
            tuple(tuple(i + shift for shift in (0, n, 2 * n) for i in columns) for columns in material)
            for material in one.strengths
        ),
        measure=one.measure,
        step=place.spread(one.step, one.step, one.step),
        made=tuple(made),
    )
    return TwoAccords(_few_dilutions(programme, first), n, one, other)


def _makings(first: Study, second: Study) -> list[Programme]:
    """Return the programmes of both accords together that say what is made; one where they say the same."""
    batch = 2 * first.settings.batch.accord_g
    both = [state(with_keys(study, "batch", accord_g=batch)) for study in (first, second)]
    return both[:1] if both[0].columns == both[1].columns else both


class _Places:
    """Where the columns of one accord stand among those of two."""

    def __init__(self, stocks: int, more: int) -> None:
        self.n, self.more = stocks, more

    def spread(self, base: FloatArray, tail: FloatArray, second: FloatArray, more: float = 0.0) -> FloatArray:
        """Return one array of all columns from those of the stocks."""
        n = self.n
        return np.concatenate([base[:n], tail[:n], second[:n], np.full(self.more, more)])

    def of_each(self, row: LimitRow, *, in_first: bool) -> LimitRow:
        """Return a limit on one accord: on the base and its tail."""
        zero = np.zeros(self.n)
        amounts, used = (
            self.spread(a, a, zero) if in_first else self.spread(a, zero, a) for a in (row.amounts, row.used)
        )
        return replace(row, amounts=amounts, used=used)

    def of_both(self, row: LimitRow, begin: int) -> Iterator[LimitRow]:
        """Yield a limit on what both take together; the least that can be made is asked wherever it is poured."""
        if row.key.kind not in TOGETHER - {"dilutions"}:
            return
        n, zero = self.n, np.zeros(self.n)
        amounts = self.spread(2 * row.amounts, row.amounts, row.amounts)
        helpers = row.amounts[n:]
        amounts[begin : begin + len(helpers)] = helpers
        used = row.used
        parts = [(used, zero, zero), (zero, used, zero), (zero, zero, used)] if used.any() else [(zero, zero, zero)]
        for part in parts:
            yield replace(row, amounts=amounts, used=self.spread(*part))

    def on_hand(self, study: Study) -> Iterator[LimitRow]:
        """Yield what there is of each bottle, for both."""
        for i, stock in enumerate(study.stocks):
            if stock.recipe is None and math.isfinite(stock.maximum_g):
                row = np.zeros(3 * self.n + self.more)
                row[[i, self.n + i, 2 * self.n + i]] = 2.0, 1.0, 1.0
                key, label = LimitKey("on hand", stock.key.subject), f"{stock.label}: on hand"
                yield LimitRow(key, label, label, row, np.zeros(len(row)), stock.maximum_g)

    def second_batch(self, basis: FloatArray, batch_g: float) -> Iterator[LimitRow]:
        """Yield the batch of the second accord."""
        row = self.spread(basis, np.zeros(self.n), basis)
        for sign in (1.0, -1.0):
            yield LimitRow(SECOND, "second batch", "second batch", sign * row, np.zeros(len(row)), sign * batch_g)

    def in_all(self, lines: int) -> LimitRow:
        """Return the lines of base and tails."""
        ones, label = np.ones(self.n), f"at most {lines} lines in all"
        used = self.spread(ones, ones, ones)
        return LimitRow(LimitKey("lines", ("in all",)), label, label, np.zeros(len(used)), used, lines)


def _few_dilutions(programme: Programme, study: Study) -> Programme:
    """Return the programme with at most so many dilutions made for both, each told by a mark wherever it is poured."""
    most = study.settings.dilutions.most if study.settings.dilutions else None
    if most is None:
        return programme
    n, size = len(study.stocks), len(programme.columns)
    recipes = [i for i, stock in enumerate(study.stocks) if stock.recipe is not None]
    marks, more = np.full(len(recipes), programme.batch_g), np.zeros(len(recipes))
    limits = [replace(r, amounts=np.append(r.amounts, more), used=np.append(r.used, more)) for r in programme.limits]
    key, label = LimitKey("dilutions"), f"at most {most} dilutions made"
    for mark, i in enumerate(recipes, start=size):
        for column in (i, n + i, 2 * n + i):
            amounts, used = np.zeros(size + len(recipes)), np.zeros(size + len(recipes))
            amounts[mark], used[column] = -1 / programme.batch_g, 1.0
            limits.append(LimitRow(key, label, label, amounts, used, 0.0))
    counted = np.append(np.zeros(size), more + 1)
    limits.append(LimitRow(key, label, label, np.zeros(len(counted)), counted, most))
    return replace(
        programme,
        columns=(*programme.columns, *(f"made: {study.stocks[i].label}" for i in recipes)),
        content=np.hstack([programme.content, np.zeros((len(programme.rows), len(recipes)))]),
        basis=np.append(programme.basis, more),
        minimum=np.append(programme.minimum, marks),
        maximum=np.append(programme.maximum, marks),
        step=np.append(programme.step, more),
        limits=tuple(limits),
    )
