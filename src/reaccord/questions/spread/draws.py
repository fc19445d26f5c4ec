"""Monte Carlo over compositions and lots: what a formula turns out to be when its bottles vary."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from reaccord.answer.judge import Judgement, judge
from reaccord.answer.limits_held import ROUNDING_NOISE
from reaccord.contract import FloatArray, deviation_of
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.questions.spread.variation import VariedRow
from reaccord.questions.spread.watched import Watched
from reaccord.study.changed import with_samples

AT_ONCE = 2_000_000
"""Numbers drawn at a time; what is drawn does not depend on it."""
QUANTILES = (0.05, 0.5, 0.95)


class Broken(NamedTuple):
    """In what share of the draws a limit is broken."""

    key: LimitKey
    label: str
    share: float


@dataclass(frozen=True)
class Outcome:
    """How a formula fares over all draws; K rows of the target.

    `residuals` (3, K) and `deviation` (3,) are the quantiles 5, 50 and 95 %; `mean` and `standard_error`
    are of the deviation, `deviations` (draws,) itself; `broken` is the share of draws that breaks each limit.
    """

    judged: Judgement
    residuals: FloatArray
    deviation: FloatArray
    mean: float
    standard_error: float
    deviations: FloatArray
    broken: tuple[Broken, ...]


def lots_of(study: Study) -> FloatArray | None:
    """Return the target's shares by lot, shape (lots, K); None where the target is one lot, or a band of lots.

    Every lot is closed as the mean of them is; a lot that does not have a row has 0 there.
    """
    settings = study.settings
    lots = study.target.samples
    if len(lots) < 2 or settings.target.combine != "mean":
        return None
    found = []
    for lot in lots:
        rows = with_samples(study, (lot,)).target.rows
        shares = {row.label: row.share for row in rows if row.kind == "named"}
        found.append([shares.get(row.label, 0.0) if row.kind == "named" else row.share for row in study.target.rows])
    return np.array(found)


def draw(rows: tuple[VariedRow, ...], draws: int, seed: np.random.SeedSequence) -> Iterator[FloatArray]:
    """Yield drawn shares less their means, shape (some draws, rows), `draws` in all."""
    rng = np.random.default_rng(seed)
    low, share, high = (np.array([getattr(row, name) for row in rows]) for name in ("low", "share", "high"))
    mean = np.array([row.mean for row in rows])
    size = max(1, AT_ONCE // max(1, len(rows)))
    for start in range(0, draws, size):
        shape = (min(size, draws - start), len(rows))
        yield rng.triangular(low, share, high, shape) - mean if rows else np.zeros(shape)


class Trials:
    """The same draws for any formula of a study."""

    def __init__(self, watched: Watched, draws: int, seed: int, stream: int) -> None:
        self.watched, self.draws, self.seed = watched, draws, seed
        self._shares, self._lots = np.random.SeedSequence(seed, spawn_key=(stream,)).spawn(2)
        self.lots = lots_of(watched.study)
        target = watched.study.target.rows
        self.low, self.high = np.array([row.low for row in target]), np.array([row.high for row in target])
        self.factor = np.array([row.factor for row in target])
        self.undeclared = np.array([row.kind == "undeclared" for row in target])

    def quantities(self, amounts: Mapping[StockKey, float]) -> FloatArray:
        """Return gram of every watched quantity, shape (draws, Q); undeclared mass is never below 0."""
        parts = self.watched.of_formula(amounts)
        moving = np.flatnonzero(parts[1:].any(axis=1))
        sets = [self.watched.sets[number] for number in moving]
        coefficients = parts[1:][moving]
        found = []
        for deltas in draw(self.watched.variation.rows, self.draws, self._shares):
            products = np.ones((len(deltas), len(sets)))
            for number, rows in enumerate(sets):
                for row in rows:
                    products[:, number] *= deltas[:, row]
            found.append(parts[0] + products @ coefficients)
        drawn: FloatArray = np.concatenate(found)
        masses = [*np.flatnonzero(self.undeclared), self.watched.undeclared]
        drawn[:, masses] = np.maximum(drawn[:, masses], 0.0)
        return drawn

    def residuals(self, drawn: FloatArray, basis_g: float) -> FloatArray:
        """Return `d_k` of every draw, shape (draws, K); `basis_g` is the nominal basis."""
        achieved = drawn[:, : self.watched.rows] / basis_g
        if self.lots is None:
            return achieved - np.clip(achieved, self.low, self.high)
        of_draw = np.random.default_rng(self._lots).integers(len(self.lots), size=self.draws)
        banded = self.high > self.low
        shares = np.where(banded, np.clip(achieved, self.low, self.high), self.lots[of_draw])
        return np.asarray(achieved - shares)

    def of(self, amounts: Mapping[StockKey, float]) -> Outcome:
        """Return how a formula fares."""
        study = self.watched.study
        judged = judge(study, amounts)
        totals = judged.totals
        basis_g = totals.accord_g
        drawn = self.quantities(amounts)
        residuals = self.residuals(drawn, basis_g)
        deviations = deviation_of(study.settings.fit.measure, (self.factor * residuals).T)
        return Outcome(
            judged,
            np.quantile(residuals, QUANTILES, axis=0),
            np.quantile(deviations, QUANTILES),
            float(deviations.mean()),
            float(deviations.std(ddof=1) / np.sqrt(self.draws)) if self.draws > 1 else 0.0,
            deviations,
            self.broken(drawn, judged),
        )

    def broken(self, drawn: FloatArray, judged: Judgement) -> tuple[Broken, ...]:
        """Return the share of draws in which each limit is broken, in the order of the judge."""
        study, watched, totals = self.watched.study, self.watched, judged.totals
        dosage = study.settings.limits.dosage or 0.0
        moving = {key: dosage * drawn[:, place] / totals.accord_g for key, place in watched.claims.items()}
        moving[LimitKey("undeclared")] = drawn[:, watched.undeclared] / totals.accord_g
        moving[LimitKey("carrier")] = drawn[:, watched.carrier]
        found = []
        for state in judged.limits:
            over = np.array([not state.held])
            if state.key in moving:
                values = moving[state.key]
                over = values - state.limit > ROUNDING_NOISE * np.maximum(np.abs(values), abs(state.limit))
            found.append(Broken(state.key, state.label, float(over.mean())))
        return tuple(found)
