"""Formulas that lie far from others: so much neat mass at least is taken out and put in elsewhere.

Of a formula that pours `a_m` gram of `m`, without carrier, another with `y_m` moves `1/2 sum |y_m - a_m|`. What is more
and what is less are two columns for each of its materials, with switches only one of which is on:

    more <= y - L - (a - L) more_on        more + less + sum over other materials of y >= 2 least
    less <= Y - y - (Y - a) less_on        more_on + less_on <= 1

where every formula that is near enough pours from `L` to `Y`: then these rows are the convex hull of each distance.
That is weak where the span is wide. So a search ends after some nodes, and with the formula it found the spans are
narrowed to those of formulas as near as that; the next search proves much more.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from reaccord.contract import Answer, Budget, FloatArray, LimitRow, Programme, standing
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.solvers.choose import solve
from reaccord.solvers.extents import Extents

NODES = 200
"""Of the first search; each has twice as many as the one before."""
MOST_NODES = 800
"""Of the last search, where nobody said how many seconds it may take: what is not proven by then takes long."""
ROOM = 1e-6
"""Relative; spans are those of formulas so little farther off than the best, so that it stays among them."""
TURNS, TURN = 6, 0.2
"""Searches to given sides, and what each may take of the seconds left."""
Neat = Mapping[str, float]
"""Gram without carrier by material."""
Sides = Mapping[str, float]
"""1 where more of a material is poured than in another formula, -1 where less is."""


@dataclass(frozen=True)
class Moved:
    """How much is moved at least: a share of the neat mass of the formula before it, or gram."""

    share: float | None = None
    gram: float | None = None

    def of(self, neat_g: float) -> float:
        """Return the gram, of a formula with so many neat gram."""
        return self.share * neat_g if self.share is not None else float(self.gram or 0.0)


def neat_of(study: Study, amounts: Mapping[StockKey, float]) -> dict[str, float]:
    """Return the gram without carrier in a formula (gram by stock), by material; none that is carrier alone."""
    found: dict[str, float] = {}
    for stock in study.stocks:
        grams = amounts.get(stock.key, 0.0) * (1 - stock.carrier_share)
        if grams > 0:
            found[stock.key.material] = found.get(stock.key.material, 0.0) + grams
    return found


def moved_between(one: Neat, other: Neat) -> float:
    """Return the neat gram moved between two formulas: half of what goes out and what comes in."""
    return 0.5 * math.fsum(abs(one.get(name, 0.0) - other.get(name, 0.0)) for name in sorted(one.keys() | other.keys()))


def closest_far(
    study: Study, programme: Programme, others: Sequence[Neat], moved: Moved, within: float, budget: Budget
) -> Answer:
    """Return the closest formula that moves so much from each of the others, as far as the budget goes.

    `within` is the deviation above which a formula is of no interest: one is infeasible where all are above it. The
    first columns of `programme` are the study's stocks; the answer's are those of `programme`, and more.
    """
    far, deadline = _Far(study, programme, others, moved), budget.running()
    low, ceiling, nodes = 0.0, within, NODES
    spans = far.spans(ceiling)
    best = far.nearer(far.wide_sides(spans), None, deadline)
    while True:
        if best is not None and best.value * (1 + ROOM) < ceiling:
            ceiling = best.value * (1 + ROOM)
            spans = far.spans(ceiling)
        until = _Until(nodes, within, deadline)
        start = None if best is None else far.columns(best.formula)
        asked = Budget(deadline.gap, deadline.left(), until.stop, until.told, start)
        answer = solve(far.stated(spans), asked)
        low = max(low, min(answer.bound, ceiling))
        if answer.amounts is not None and (best is None or answer.value < best.value):
            best = far.nearer(far.sides(answer.amounts), far.only(answer), deadline)
        value = math.inf if best is None else best.value
        ended = deadline.over() or (nodes >= MOST_NODES and math.isinf(deadline.seconds))
        if (answer.status == "infeasible" and best is None) or low >= within < value:
            return replace(answer, status="infeasible", amounts=None, value=math.inf, bound=math.inf)
        if best is not None and (low >= value * (1 - deadline.gap) or ended or not until.full):
            return replace(best, bound=min(low, value), status=standing(value, low, deadline.gap))
        if ended or not until.full:
            return replace(answer, status="no_answer", bound=low)
        nodes *= 2


class _Until:
    """Ends a search that has decided: all is above what is of interest; or, `full`, after so many nodes."""

    def __init__(self, nodes: int, within: float, budget: Budget) -> None:
        self._nodes, self._within, self._budget = nodes, within, budget
        self.full = self._none = False

    def stop(self) -> bool:
        return self.full or self._none or self._budget.stop()

    def told(self, value: float, bound: float, nodes: int) -> None:
        del value
        self._none = self._none or bound > self._within
        self.full = self.full or nodes >= self._nodes


class _Far:
    """States the programme of formulas far from others, for spans of every material."""

    def __init__(self, study: Study, programme: Programme, others: Sequence[Neat], moved: Moved) -> None:
        self.programme, self.others, self.moved = programme, others, moved
        stocks: dict[str, list[int]] = {}
        for i, stock in enumerate(study.stocks):
            stocks.setdefault(stock.key.material, []).append(i)
        self.sums = {name: np.zeros(len(programme.columns)) for name in stocks}
        for name, columns in stocks.items():
            self.sums[name][columns] = [1 - study.stocks[i].carrier_share for i in columns]

    def spans(self, value: float) -> dict[str, tuple[float, float]]:
        """Return from what to what formulas with at most this deviation pour of each material, gram without carrier."""
        found = Extents(self.programme, value).spans(list(self.sums.values()))
        return dict(zip(self.sums, found, strict=True))

    def wide_sides(self, spans: Mapping[str, tuple[float, float]]) -> list[Sides]:
        """Return for each other formula to which side of it each material has more room."""
        return [
            {name: 1.0 if low + high >= 2 * other.get(name, 0.0) else -1.0 for name, (low, high) in spans.items()}
            for other in self.others
        ]

    def sides(self, amounts: FloatArray) -> list[Sides]:
        """Return for each other formula whether amounts pour more or less of each material."""
        poured = {name: float(neat @ amounts[: len(neat)]) for name, neat in self.sums.items()}
        return [{n: 1.0 if poured[n] >= other.get(n, 0.0) else -1.0 for n in poured} for other in self.others]

    def nearer(self, sides: list[Sides], best: Answer | None, deadline: Budget) -> Answer | None:
        """Return the closest formula to these sides of the others, again to the sides it lies on, while it is closer.

        What is moved to given sides is no more than what is moved in all.
        """
        for _ in range(TURNS):
            rows = [self._to(side, other) for side, other in zip(sides, self.others, strict=True)]
            asked = replace(self.programme, limits=(*self.programme.limits, *rows))
            start = None if best is None else best.amounts
            found = None if deadline.over() else solve(asked, deadline.rest(TURN, start=start))
            if found is None or found.amounts is None or (best is not None and found.value >= best.value * (1 - ROOM)):
                break
            best, sides = found, self.sides(found.amounts)
        return best

    def _to(self, sides: Sides, other: Neat) -> LimitRow:
        """Return what says that enough is moved from one other to these sides of it."""
        whole = np.zeros(len(self.programme.columns))
        for name, neat in self.sums.items():
            whole += sides[name] * neat
        beyond = 2 * self.moved.of(math.fsum(other.values()))
        return self._row(-whole, {}, -math.fsum([beyond, *(sides[name] * grams for name, grams in other.items())]))

    def only(self, answer: Answer) -> Answer:
        """Return an answer on the columns of the programme alone."""
        return replace(answer, amounts=answer.formula[: len(self.programme.columns)])

    def columns(self, amounts: FloatArray) -> FloatArray:
        """Return amounts (n,) over the columns that are stated: with what is more and what is less than each other."""
        parts = [amounts]
        for other in self.others:
            moved = [float(self.sums[name] @ amounts) - other[name] for name in sorted(other)]
            parts += [np.maximum(moved, 0.0), np.maximum(np.negative(moved), 0.0)]
        return np.concatenate(parts)

    def stated(self, spans: Mapping[str, tuple[float, float]]) -> Programme:
        """Return the programme with these spans."""
        rows = [self._row(-self.sums[name], {}, -low) for name, (low, _) in spans.items()]
        rows += [self._row(self.sums[name], {}, high) for name, (_, high) in spans.items()]
        programme = replace(self.programme, limits=(*self.programme.limits, *rows))
        for other in self.others:
            programme = self._apart_from(programme, other, spans)
        return programme

    def _apart_from(self, programme: Programme, other: Neat, spans: Mapping[str, tuple[float, float]]) -> Programme:
        """Return the programme of formulas that move so much from one other."""
        names = sorted(other)
        size, poured = len(programme.columns), np.array([other[name] for name in names])
        low = np.minimum([spans[name][0] for name in names], poured)
        high = np.maximum([spans[name][1] for name in names], poured)
        wide = size + 2 * len(names)
        away = np.zeros(wide)
        away[size:] = 1.0
        for name in self.sums.keys() - other.keys():
            away[: len(self.sums[name])] += self.sums[name]
        rows = [self._row(-away, {}, -2 * self.moved.of(math.fsum(other.values())))]
        for k, name in enumerate(names):
            more, less, of_it = size + k, size + len(names) + k, np.zeros(wide)
            of_it[: len(self.sums[name])] = self.sums[name]
            rows.append(self._row(_unit(wide, more) - of_it, {more: poured[k] - low[k]}, -low[k]))
            rows.append(self._row(_unit(wide, less) + of_it, {less: high[k] - poured[k]}, high[k]))
            rows.append(self._row(np.zeros(wide), {more: 1.0, less: 1.0}, 1.0))
        return _with(programme, names, np.concatenate([high - poured, poured - low]), rows)

    @staticmethod
    def _row(amounts: FloatArray, used: Mapping[int, float], most: float) -> LimitRow:
        uses = np.zeros(len(amounts))
        uses[list(used)] = list(used.values())
        return LimitRow(LimitKey("lines", ("moved",)), "moved", "far from another formula", amounts, uses, most)


def _unit(size: int, column: int) -> FloatArray:
    found = np.zeros(size)
    found[column] = 1.0
    return found


def _with(programme: Programme, names: list[str], maximum: FloatArray, rows: list[LimitRow]) -> Programme:
    """Return the programme with columns of what is more and what is less, and these rows."""
    more = np.zeros(len(maximum))
    limits = [
        replace(row, amounts=np.append(row.amounts, more), used=np.append(row.used, more)) for row in programme.limits
    ]
    return replace(
        programme,
        columns=(*programme.columns, *(f"more: {name}" for name in names), *(f"less: {name}" for name in names)),
        content=np.hstack([programme.content, np.zeros((len(programme.rows), len(more)))]),
        basis=np.append(programme.basis, more),
        minimum=np.append(programme.minimum, more),
        maximum=np.append(programme.maximum, maximum),
        step=np.append(programme.step, more),
        limits=(*limits, *rows),
    )
