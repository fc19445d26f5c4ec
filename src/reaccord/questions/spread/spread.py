"""How a result moves with natural variation, and the formula that is best for all of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from reaccord.contract import Answer, Budget
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import UsageError
from reaccord.questions.spread.draws import Outcome, Trials
from reaccord.questions.spread.robust import ALL_DRAWS, Robust, best_for_the_spread
from reaccord.questions.spread.variation import Variation
from reaccord.questions.spread.watched import Watched

DRAWS, SEED = 10_000, 1
MOST_NUMBERS = 200_000_000
"""Draws times rows that are kept at once: 1.6 GB."""


@dataclass(frozen=True)
class Compared:
    """The nominal formula and the one for the whole spread, on the same fresh draws.

    `gain` is how much less the second one deviates on average, `standard_error` that of the difference;
    `expected` are the closed forms of both.
    """

    nominal: Outcome
    robust: Outcome
    expected: tuple[float, float]
    gain: float
    standard_error: float
    answer: Answer
    hold: float


@dataclass(frozen=True)
class Spread:
    """The outcome of a formula over all draws; `lots` of the target were drawn too if there are several.

    `expected` is the mean deviation by the closed form, None for other measures than squares.
    """

    study: Study
    draws: int
    seed: int
    varied: int
    one_ended: int
    lots: int
    outcome: Outcome
    expected: float | None
    compared: Compared | None


def spread(
    study: Study,
    amounts: Mapping[StockKey, float],
    draws: int = DRAWS,
    seed: int = SEED,
    *,
    robust: bool = False,
    hold: float = ALL_DRAWS,
    budget: Budget | None = None,
) -> Spread:
    """Return how a formula, gram by stock, fares when compositions and lots vary; the same seed, the same figures.

    Parameters
    ----------
    robust
        Also find the formula with the least expected deviation, and compare both on draws of their own.
    hold
        Share of the draws in which the restricted limits must hold for it; 1: in all.

    Raises
    ------
    UsageError
        For `robust` with another measure than squares or stocks set aside; for more draws than can be kept.
    NoFormula, NoAnswer
        If `robust` finds none.
    """
    known = {stock.key for stock in study.stocks}
    _refuse_what_cannot_be(study, draws, robust, [key for key in amounts if key not in known])
    squares, variation = study.settings.fit.measure == "squares", Variation(study)
    watched = Watched(study, variation, [*amounts, *(sorted(known) if squares else ())])
    trials = Trials(watched, draws, seed, 0)
    whole = Robust(study, watched) if squares else None
    compared = _compared(whole, trials, amounts, hold, budget or Budget()) if whole and robust else None
    return Spread(
        *(study, draws, seed, len(variation.rows), variation.one_ended),
        0 if trials.lots is None else len(trials.lots),
        trials.of(amounts),
        whole.expected(amounts) if whole and known >= set(amounts) else None,
        compared,
    )


def _refuse_what_cannot_be(study: Study, draws: int, robust: bool, aside: list[StockKey]) -> None:
    if robust and study.settings.fit.measure != "squares":
        raise UsageError("--robust works with squares only: their expected value has a closed form.")
    if robust and aside:
        raise UsageError(f"--robust compares formulas of bottles that may be used; {aside[0].material} is set aside.")
    most = MOST_NUMBERS // max(1, len(study.target.rows))
    if draws > most:
        raise UsageError(f"--draws can be at most {most} with so many rows.")


def _compared(
    whole: Robust, trials: Trials, amounts: Mapping[StockKey, float], hold: float, budget: Budget
) -> Compared:
    found, answer = best_for_the_spread(whole, budget, trials, hold, amounts)
    fresh = Trials(trials.watched, trials.draws, trials.seed, 1)
    nominal, robust = fresh.of(amounts), fresh.of(found)
    less = nominal.deviations - robust.deviations
    error = float(less.std(ddof=1) / np.sqrt(len(less))) if len(less) > 1 else 0.0
    expected = (whole.expected(amounts), whole.expected(found))
    return Compared(nominal, robust, expected, float(less.mean()), error, answer, hold)
