"""Which limits truly hold a formula back: let go of one, and solve whether that makes a closer formula."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from reaccord.answer.amounts import amounts_of, by_stock
from reaccord.answer.limits_held import LimitState
from reaccord.answer.why.again import Again
from reaccord.contract import NEARLY_ZERO, Answer, Budget, FloatArray, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.programme import restate
from reaccord.solvers.decide import NEVER, decide
from reaccord.study.smallest_mass import grams_of, steps_down

CLOSER = 1e-3
"""Relative; a formula closer by less is no closer."""
GENEROUS = 1.5
"""Times its share of the time that is left: what a limit takes at most."""
KEPT = 0.15
"""Seconds of the processor that are kept for other reasons: as much as these get."""
NOT_ASKED = frozenset({"smallest", "steps", "strengths", "set aside", "off grid"})
"""What each bottle asks for itself, but for its grams on hand."""


@dataclass(frozen=True)
class LetGo:
    """Whether letting go of a limit makes a closer formula, and the answer without it where it does."""

    holds: bool
    answer: Answer | None = None

    @property
    def amounts(self) -> FloatArray | None:
        """That formula (n,), stocks first."""
        return None if self.answer is None else self.answer.amounts

    @property
    def proven(self) -> bool:
        """Whether none is closer then, within the gap; else it is the closest found in time."""
        return self.answer is not None and self.answer.status == "proven"


def let_go(again: Again, states: Iterable[LimitState]) -> Mapping[LimitKey, LetGo]:
    """Return of each limit at its end what letting go of it does; not in it: not known.

    Parameters
    ----------
    again
        The closest formula found. True is said only of a limit without which some formula is closer than the bound
        on all formulas with it.
    states
        Limits; those that bind are asked, each for its share of the time that is left.
    """
    keys = [state.key for state in states if state.binding and state.key.kind not in NOT_ASKED]
    if again.answer.amounts is None or again.answer.value <= NEARLY_ZERO:
        return dict.fromkeys(keys, LetGo(False))
    found: dict[LimitKey, LetGo] = {}
    for place, key in enumerate(keys):
        left = again.left - KEPT
        if left <= 0:
            break
        with again.share(min(1.0, GENEROUS / (len(keys) - place)) * left) as budget:
            said = _holds(again, without(again.study, again.programme, key), budget)
        if said is not None:
            found[key] = said
    return found


def _holds(again: Again, loosened: Programme, budget: Budget) -> LetGo | None:
    worth = again.answer.value * (1 - CLOSER)
    most, study = min(worth, again.answer.bound), again.study
    start = amounts_of(loosened, study, by_stock(study.stocks, again.answer.formula))
    said = decide(loosened, NEVER, budget, start, worth, CLOSER / 2)
    if said.amounts is None or said.value > most:
        return LetGo(False) if said.bound > worth else None
    return LetGo(True, said)


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
