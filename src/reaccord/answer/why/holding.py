"""Which limits truly hold a formula back: let go of one, and solve whether that makes a closer formula."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from reaccord.answer.limits_held import LimitState
from reaccord.contract import NEARLY_ZERO, Answer, Budget, FloatArray, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.programme import restate, state
from reaccord.solvers.decide import decide
from reaccord.study.smallest_mass import grams_of, steps_down

CLOSER = 1e-3
"""Relative; a formula closer by less is no closer."""
SECONDS = 0.5
"""Of the processor, for all limits together: whether one is said to hold back should not hang on what else runs."""
PATIENCE = 4.0
"""Times as long by the clock."""
NOT_ASKED = frozenset({"smallest", "steps", "strengths", "set aside", "off grid"})
"""What each bottle asks for itself, but for its grams on hand."""


@dataclass(frozen=True)
class LetGo:
    """Whether letting go of a limit makes a closer formula, and that formula (n,), stocks first."""

    holds: bool
    amounts: FloatArray | None = None


def let_go(
    study: Study,
    states: Iterable[LimitState],
    answer: Answer,
    stated: Programme | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> Mapping[LimitKey, LetGo]:
    """Return of each limit at its end what letting go of it does; not in it: not known.

    Parameters
    ----------
    states
        Limits; those that bind are asked, each for its share of the time that is left.
    answer
        The closest formula found. True is said only of a limit without which some formula is closer than the bound
        on all formulas with it.
    stated
        The study as a programme, where that is at hand.
    stop
        Asked often; true ends it, and what is not known then is not in it.
    """
    stated = stated or state(study)
    keys = [state.key for state in states if state.binding and state.key.kind not in NOT_ASKED]
    if answer.amounts is None or answer.value <= NEARLY_ZERO:
        return dict.fromkeys(keys, LetGo(False))
    found: dict[LimitKey, LetGo] = {}
    begun = time.process_time()
    for place, key in enumerate(keys):
        left = SECONDS - (time.process_time() - begun)
        if left <= 0 or stop():
            break
        said = _holds(without(study, stated, key), answer, left / (len(keys) - place), stop)
        if said is not None:
            found[key] = said
    return found


def _holds(loosened: Programme, answer: Answer, seconds: float, stop: Callable[[], bool]) -> LetGo | None:
    worth = answer.value * (1 - CLOSER)
    most, end = min(worth, answer.bound), time.process_time() + seconds
    budget = Budget(seconds=PATIENCE * seconds, stop=lambda: stop() or time.process_time() > end).running()
    budget = replace(budget, warm=answer.warm)
    said = decide(loosened, most, budget, _start(loosened, answer.amounts), worth)
    if said.amounts is not None and said.value <= most:
        return LetGo(True, said.amounts)
    return LetGo(False) if said.bound > worth else None


def _start(programme: Programme, amounts: FloatArray | None) -> FloatArray:
    """Return amounts (n,) to begin from: stocks stand in the same places, the grams made behind them may be others."""
    assert amounts is not None
    start, stocks = np.zeros(len(programme.columns)), int((~programme.helpers).sum())
    start[:stocks] = amounts[:stocks]
    return start


def without(study: Study, stated: Programme, key: LimitKey) -> Programme:
    """Return the programme of a study that lets go of one limit; `stated` is that of the study itself."""
    if key.kind == "on hand":
        return restate(stated, study, _unlimited(study, key.subject))
    return replace(stated, limits=tuple(row for row in stated.limits if row.key != key))


def _unlimited(study: Study, subject: tuple[str, ...]) -> Study:
    """Return the study with a bottle that never runs out, and as much of each dilution as that lets be made."""
    most = {s.key: math.inf if s.key.subject == subject else s.maximum_g for s in study.every_stock}
    return replace(
        study,
        stocks=tuple(_up_to(stock, most) for stock in study.stocks),
        set_aside=tuple(replace(item, stock=_up_to(item.stock, most)) for item in study.set_aside),
    )


def _up_to(stock: Stock, most: Mapping[StockKey, float]) -> Stock:
    recipe = stock.recipe
    if recipe is None:
        return replace(stock, maximum_g=most[stock.key])
    share = recipe.source_share
    grams = min(most[recipe.source] / share, most[recipe.carrier] / (1 - share))
    if stock.step_g > 0 and math.isfinite(grams):
        grams = grams_of(steps_down(grams, stock.step_g), stock.step_g)
    return replace(stock, maximum_g=grams)
