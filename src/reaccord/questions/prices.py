"""What each limit costs: the formula without it, and the smallest change of it that gains a tenth of that.

Everything is solved again, from the answer at hand. A limit is priced where the formula stands at it; beside the
study's limits the batch (a smaller one that the old lot suffices for), the dosage and the balance.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from reaccord.answer.amounts import amounts_of
from reaccord.answer.fit import Fit, fit
from reaccord.answer.judge import judge
from reaccord.contract import Budget
from reaccord.domain.study import Study
from reaccord.domain.three_figures import three_figures
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.programme import restate
from reaccord.questions.movable import Movable, movables
from reaccord.solvers.decide import decide
from reaccord.study.changed import with_keys

PART = 0.1
"""Of what a limit costs: the change that is told gains so much."""
CLOSER = 1e-3
"""Relative; what gains less costs nothing."""
HALVINGS = 5
DECIDED = 2e-3
"""Relative; a deviation that is known to fall short by no more is not looked for."""
SECONDS = 1.0
"""For one question: a change not decided by then is called too small, of a formula the best so far is told."""
SHORTER = (0.75, 0.5)
"""Times the lines: so short are the shorter formulas that are told."""


@dataclass(frozen=True)
class Found:
    """A formula of a changed study: its deviation and how much of it is wrong, from rounded amounts."""

    value: float
    misplaced_share: float
    proven: bool


@dataclass(frozen=True)
class Step:
    """A limit moved to `limit`, and what that gives."""

    limit: float
    found: Found


@dataclass(frozen=True)
class LimitPrice:
    """What a limit costs: `gain` is by how much the deviation falls without it; `step` None where none was found."""

    kind: str
    subject: tuple[str, ...]
    label: str
    unit: str
    now: float
    without: Found
    step: Step | None
    gain: float


@dataclass(frozen=True)
class Prices:
    """The limits that cost something, the dearest first; shorter formulas; the limits that were not asked in time."""

    limits: tuple[LimitPrice, ...]
    shorter: tuple[Step, ...]
    unasked: tuple[str, ...]


def prices(found: Fit, budget: Budget) -> Prices:
    """Return what the limits cost that a formula stands at, and what shorter formulas there are."""
    budget, priced, unasked = budget.running(), list[LimitPrice](), list[str]()
    idle = {tuple(key) for key, holds in found.holding.items() if not holds}
    for movable in movables(found):
        if movable.key in idle:
            continue  # no formula without it is closer: known already
        if budget.over():
            unasked.append(movable.label)
            continue
        price = _price(found, movable, budget)
        if price is not None:
            priced.append(price)
    priced.sort(key=lambda price: (-price.gain, price.label))
    return Prices(tuple(priced), tuple(_shorter(found, budget)), tuple(unasked))


def _price(found: Fit, movable: Movable, budget: Budget) -> LimitPrice | None:
    value = found.judged_before.closeness.value
    free = _fitted(lambda: movable.at(None), found, budget)
    gain = 0.0 if free is None else value - free.judged_before.closeness.value
    if free is None or gain <= CLOSER * value:
        return None
    step = _step(found, movable, (_end(found, movable, free), value - PART * gain), budget)
    own = (movable.kind, movable.subject, movable.label, movable.unit, movable.now)
    return LimitPrice(*own, _of(free), step, gain)


def _end(found: Fit, movable: Movable, free: Fit) -> float:
    """Return as far as a limit can matter: where the formula without it stands, as the study with it judges."""
    if movable.end is not None:
        return movable.end
    states = judge(found.study, free.amounts).limits
    return next(state.value for state in states if state.key == movable.key)


def _step(found: Fit, movable: Movable, aim: tuple[float, float], budget: Budget) -> Step | None:
    """Return the smallest change of a limit, towards the end of `aim`, that brings the deviation down to its value."""
    far, wanted = aim
    near = movable.now
    if not math.isfinite(far) or far == near:
        return None
    for _ in range(HALVINGS):
        middle = round((near + far) / 2) if movable.whole else (near + far) / 2
        if budget.over() or middle in {near, far}:
            break
        if _reaches(found, movable, middle, wanted, budget):
            far = middle
        else:
            near = middle
    limit = far if movable.whole else float(three_figures(far, up=far > movable.now, slack=0))
    fitted = _fitted(lambda: movable.at(limit), found, budget)
    return None if fitted is None else Step(limit, _of(fitted))


def _reaches(found: Fit, movable: Movable, limit: float, wanted: float, budget: Budget) -> bool:
    """Whether some formula with the limit there deviates by at most what is wanted; if it is not decided: no."""
    assert found.programme is not None
    try:
        study = movable.at(limit)
    except InvalidInput:
        return False
    programme = restate(found.programme, found.study, study)
    start = amounts_of(programme, study, found.unrounded)
    rest = replace(budget.rest(warm=found.answer.warm), seconds=min(SECONDS, budget.left()))
    said = decide(programme, wanted, rest, start, wanted * (1 - DECIDED))
    return said.amounts is not None and said.value <= wanted


def _fitted(change: Callable[[], Study], found: Fit, budget: Budget) -> Fit | None:
    try:
        rest = replace(budget.rest(), seconds=min(SECONDS, budget.left()))
        return fit(change(), rest, before=found, shorten=False)
    except (NoFormula, NoAnswer, InvalidInput):
        return None


def _of(found: Fit) -> Found:
    close = found.judged.closeness
    return Found(close.value, close.misplaced_share, found.answer.status == "proven")


def _shorter(found: Fit, budget: Budget) -> Iterator[Step]:
    """Yield shorter formulas: the closest of three quarters and of half the lines."""
    lines = len(found.judged.lines)
    for most in dict.fromkeys(max(1, round(part * lines)) for part in SHORTER):
        if most < lines and not budget.over():
            fitted = _fitted(lambda most=most: with_keys(found.study, "limits", lines=most), found, budget)  # type: ignore[misc]
            if fitted is not None:
                yield Step(most, _of(fitted))
