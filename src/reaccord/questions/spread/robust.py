"""The formula that is best for the whole spread: a least-squares programme with a few rows more.

For share rows `E[d_k^2] = d_k(mean)^2 + x' V_k x / G^2`. With the contents of `variation`,
`x' V_k x` is the sum over sets of rows of `(deviation_S * coefficient_S @ x)^2`: each set is one more row of the
programme, with target 0 and no negative entry. Band rows and the undeclared row use the nominal band.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from reaccord.answer.amounts import in_grams
from reaccord.answer.rounding import round_amounts, value_reached
from reaccord.contract import Answer, Budget, FloatArray, Programme
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import NoAnswer, NoFormula
from reaccord.programme import state
from reaccord.questions.spread.draws import Trials, lots_of
from reaccord.questions.spread.watched import Watched
from reaccord.solvers.choose import solve

Found = tuple[dict[StockKey, float], Answer]
ALL_DRAWS = 1.0
HALVINGS = 4
"""How often the step between limits at mean contents and limits at highest contents is halved."""


class Robust:
    """The programme of a study for its whole spread."""

    def __init__(self, study: Study, watched: Watched) -> None:
        self.study, self.watched = study, watched
        nominal = state(study)
        self._contents = [watched.contents(stock.key) for stock in study.stocks]
        self.programme = self._spread(nominal)
        lots = lots_of(study)
        shares = self.programme.low == self.programme.high
        shares = shares[: watched.rows]
        factor = nominal.factor * shares
        self.of_lots = 0.0 if lots is None else float((factor**2 * lots.var(axis=0)).sum())

    def _spread(self, nominal: Programme) -> Programme:
        """Return the programme with the contents of mean shares, and a row for each way they vary together."""
        sets, k, n = self.watched.sets, self.watched.rows, len(nominal.columns)
        parts = np.zeros((1 + len(sets), self.watched.count, n))
        place = {rows: number for number, rows in enumerate(sets, start=1)}
        for column, contents in enumerate(self._contents):
            for rows, vector in contents.items():
                parts[place.get(rows, 0), :, column] = vector
        content = np.maximum(parts[0, :k], 0.0)
        kinds = [row.kind for row in self.study.target.rows]
        share = (nominal.low == nominal.high) & np.array([kind != "undeclared" for kind in kinds])
        deviations = [math.prod(self.watched.variation.rows[row].deviation for row in rows) for rows in sets]
        varied = [
            nominal.factor[row] * deviation * parts[number, row]
            for number, deviation in enumerate(deviations, start=1)
            for row in np.flatnonzero(share & parts[number, :k].any(axis=1))
        ]
        more = _merged(varied, n)
        zeros = np.zeros(len(more))
        return replace(
            nominal,
            rows=(*nominal.rows, *(f"variation {number}" for number in range(1, len(more) + 1))),
            content=np.vstack([content, more]),
            low=np.concatenate([nominal.low, zeros]),
            high=np.concatenate([nominal.high, zeros]),
            factor=np.concatenate([nominal.factor, zeros + 1.0]),
        )

    def expected(self, amounts: Mapping[StockKey, float]) -> float:
        """Return the expected deviation of a formula by the closed form, lots of the target included."""
        grams = np.zeros(len(self.programme.columns))
        for column, stock in enumerate(self.study.stocks):
            grams[column] = amounts.get(stock.key, 0.0)
        return value_reached(self.programme, grams) + self.of_lots

    def at(self, strictness: float) -> Programme:
        """Return the programme with restricted contents between their means (0) and their highest (1)."""
        terms = {claim.key: claim.terms for claim in self.study.claims()}
        dosage = self.study.settings.limits.dosage or 0.0
        limits = []
        for row in self.programme.limits:
            eased = row.amounts.copy()
            for column, stock in enumerate(self.study.stocks if row.key in terms else ()):
                high = sum(times * member.held(stock.content) for times, member in terms[row.key])
                mean = self._contents[column][()][self.watched.claims[row.key]]
                eased[column] -= dosage * (1 - strictness) * max(0.0, high - mean)
            limits.append(replace(row, amounts=eased))
        return replace(self.programme, limits=tuple(limits))


def best_for_the_spread(
    robust: Robust, budget: Budget, trials: Trials, hold: float, nominal: Mapping[StockKey, float]
) -> Found:
    """Return the formula with the least expected deviation, on the grid of the balance, and the solver's answer.

    `hold` is the share of draws (of `trials`) in which every restricted limit must hold; 1: contents at their
    highest, as ever. `nominal` stays the answer where rounding leaves nothing better.

    Raises
    ------
    NoFormula, NoAnswer
        If no formula holds the limits, or none was found.
    """
    budget = budget.running()
    amounts, answer = _solved(robust, robust.at(1.0), budget.rest())
    if hold < ALL_DRAWS and robust.study.rules:
        amounts, answer = _eased(robust, budget, trials, hold, (amounts, answer))
    if robust.expected(nominal) < robust.expected(amounts):
        return dict(nominal), answer
    return amounts, answer


def _eased(robust: Robust, budget: Budget, trials: Trials, hold: float, strict: Found) -> Found:
    """Return the best formula found that holds the restricted limits in so many draws: contents somewhat below highest.

    How far below is found by halving, and every formula is tried on all draws.
    """
    best, least, most = strict, 0.0, 1.0
    for halving in range(HALVINGS + 1):
        strictness = (least + most) / 2 if halving else 0.0
        try:
            near = best[1]
            eased = _solved(robust, robust.at(strictness), budget.rest(start=near.amounts, warm=near.warm))
        except NoAnswer:  # the time is over
            break
        if not _holds(trials, eased[0], hold):
            least = strictness
            continue
        most = strictness
        if robust.expected(eased[0]) <= robust.expected(best[0]):
            best = eased
        if most == 0.0:
            break
    return best


def _holds(trials: Trials, amounts: Mapping[StockKey, float], hold: float) -> bool:
    broken = trials.of(amounts).broken
    return all(found.share <= 1 - hold + 1e-12 for found in broken if found.key.kind == "restricted")


def _solved(robust: Robust, programme: Programme, budget: Budget) -> Found:
    answer = solve(programme, budget)
    if answer.amounts is None:
        if answer.status == "infeasible":
            raise NoFormula("No formula holds all the limits.")
        raise NoAnswer("No formula for the whole spread was found in the time given.")
    rounded = round_amounts(programme, answer.amounts)
    if rounded is None:
        raise NoAnswer("A formula for the whole spread exists, but none was found on the grid of the balance.")
    return in_grams(robust.study.stocks, rounded), answer


def _merged(rows: list[FloatArray], n: int) -> FloatArray:
    """Return rows (m, n) with the same sum of squares: those of one direction (one material's, mostly) become one."""
    squares: dict[bytes, float] = {}
    directions: dict[bytes, FloatArray] = {}
    for row in rows:
        size = float(np.linalg.norm(row))
        if size > 0:
            key = np.round(row / size, 9).tobytes()
            directions.setdefault(key, row / size)
            squares[key] = squares.get(key, 0.0) + size * size
    return np.array([math.sqrt(squares[key]) * direction for key, direction in directions.items()]).reshape(-1, n)
