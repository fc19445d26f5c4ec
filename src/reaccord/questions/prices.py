"""What each limit costs: the formula without it, and the smallest change of it that gains a tenth of that.

Everything is solved again, from the answer at hand. A limit is priced where the formula stands at it; beside the
study's limits the batch (a smaller one that the old lot suffices for), the dosage and the balance.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from reaccord.answer.fit import Fit, amounts_of, fit
from reaccord.answer.limits_held import LimitState
from reaccord.contract import Budget
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.domain.three_figures import three_figures
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.programme import restate
from reaccord.questions.axis import Axis, Carrier, Cost, Lines, Restricted
from reaccord.solvers.decide import decide
from reaccord.study.changed import with_amount, with_bottle_cells, with_keys, with_settings

PART = 0.1
"""Of what a limit costs: the change that is told gains so much."""
CLOSER = 1e-3
"""Relative; what gains less costs nothing."""
HALVINGS = 5
DECIDED = 2e-3
"""Relative; a deviation that is known to fall short by no more is not looked for."""
SECONDS = 1.0
"""For one question: a change not decided by then is called too small, of a formula the best so far is told."""
SMALLER = 0.1
"""Times the batch, or the dosage: as far as they are taken down."""
SHORTER = (0.75, 0.5)
"""Times the lines: so short are the shorter formulas that are told."""

Changed = Callable[[float], Study]


@dataclass(frozen=True)
class Found:
    """A formula of a changed study: its deviation and how much of it is wrong, from rounded amounts."""

    value: float
    misplaced_share: float


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


@dataclass(frozen=True)
class _Movable:
    """A limit that can be moved: `at` gives the study with it elsewhere, `end` is as far as it can matter."""

    kind: str
    subject: tuple[str, ...]
    label: str
    unit: str
    now: float
    at: Changed
    free: Callable[[], Study]
    end: Callable[[Fit], float]
    whole: bool = False


def prices(found: Fit, budget: Budget) -> Prices:
    """Return what the limits cost that a formula stands at, and what shorter formulas there are."""
    budget, priced, unasked = budget.running(), list[LimitPrice](), list[str]()
    for movable in _movables(found):
        if budget.over():
            unasked.append(movable.label)
            continue
        price = _price(found, movable, budget)
        if price is not None:
            priced.append(price)
    priced.sort(key=lambda price: (-price.gain, price.label))
    return Prices(tuple(priced), tuple(_shorter(found, budget)), tuple(unasked))


def _price(found: Fit, movable: _Movable, budget: Budget) -> LimitPrice | None:
    value = found.judged_before.closeness.value
    free = _fitted(movable.free, found, budget)
    if free is None or value - free.judged_before.closeness.value <= CLOSER * value:
        return None
    gain = value - free.judged_before.closeness.value
    step = _step(found, movable, (movable.end(free), value - PART * gain), budget)
    own = (movable.kind, movable.subject, movable.label, movable.unit, movable.now)
    return LimitPrice(*own, _of(free), step, gain)


def _step(found: Fit, movable: _Movable, aim: tuple[float, float], budget: Budget) -> Step | None:
    """Return the smallest change of a limit, towards the end of `aim`, that brings the deviation down to its value."""
    end, wanted = aim
    near, far = movable.now, end
    if not math.isfinite(far) or far == near:
        return None
    for _ in range(HALVINGS):
        middle = round((near + far) / 2) if movable.whole else (near + far) / 2
        if budget.over() or middle in {near, far}:
            break
        if _reaches(found, movable.at, middle, wanted, budget):
            far = middle
        else:
            near = middle
    limit = far if movable.whole else float(three_figures(far, up=far > movable.now, slack=0))
    fitted = _fitted(lambda: movable.at(limit), found, budget)
    return None if fitted is None else Step(limit, _of(fitted))


def _reaches(found: Fit, at: Changed, limit: float, wanted: float, budget: Budget) -> bool:
    """Whether some formula with the limit there deviates by at most what is wanted; if it is not decided: no."""
    assert found.programme is not None
    try:
        study = at(limit)
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
    return Found(found.judged.closeness.value, found.judged.closeness.misplaced_share)


def _shorter(found: Fit, budget: Budget) -> Iterator[Step]:
    """Yield shorter formulas: the closest of three quarters and of half the lines."""
    lines = len(found.judged.lines)
    for part in SHORTER:
        most = max(1, round(part * lines))
        if most < lines and not budget.over():
            fitted = _fitted(lambda most=most: with_keys(found.study, "limits", lines=most), found, budget)  # type: ignore[misc]
            if fitted is not None:
                yield Step(most, _of(fitted))


def _movables(found: Fit) -> Iterator[_Movable]:
    """Yield what can be moved, of what the formula stands at: each limit, then batch, dosage and balance."""
    study = found.study
    bound = [state for state in found.judged.limits if state.binding]
    for state in bound:
        movable = _of_axis(study, state) or _of_grams(study, state)
        if movable is not None:
            yield movable
    kinds = {state.key.kind for state in bound}
    batch, dosage = study.settings.batch.accord_g, study.settings.limits.dosage
    if "on hand" in kinds:
        yield _down("batch", "g", batch, lambda grams: with_keys(study, "batch", accord_g=grams))
    if "restricted" in kinds and dosage is not None:
        yield _down("dosage", "share", dosage, lambda share: with_keys(study, "limits", dosage=share))
    if study.settings.balance is not None:
        least, label = (
            min((s.minimum_g for s in study.stocks if s.minimum_g > 0), default=0.0),
            "smallest weighable mass",
        )
        free = lambda: with_settings(study, replace(study.settings, balance=None))  # noqa: E731
        yield _Movable("balance", (), label, "g", least, lambda _: study, free, lambda _: math.nan)


def _down(label: str, unit: str, now: float, at: Changed) -> _Movable:
    least = SMALLER * now
    return _Movable(label, (), label, unit, now, at, lambda: at(least), lambda _: least)


def _of_axis(study: Study, state: LimitState) -> _Movable | None:
    """Return a limit that closeness can be set against."""
    axis: Axis | None = {"cost": Cost(), "lines": Lines(), "carrier": Carrier()}.get(state.key.kind)
    if state.key.kind == "restricted":
        axis = next((Restricted(claim) for claim in study.claims() if claim.key == state.key), None)
    if axis is None:
        return None
    end = _where(state.key) if state.key.kind != "restricted" else _claimed(study, state.key)
    return _Movable(
        state.key.kind,
        state.key.subject,
        state.label,
        state.unit,
        state.limit,
        lambda limit: axis.at(study, limit),
        lambda: axis.at(study, None),
        end,
        axis.whole,
    )


def _claimed(study: Study, key: LimitKey) -> Callable[[Fit], float]:
    """Return where a formula stands in a claim of this study, though its own study may lack it."""
    claim = next(claim for claim in study.claims() if claim.key == key)
    dosage = study.settings.limits.dosage or 0.0

    def standing(free: Fit) -> float:
        lines = free.judged.lines
        held = math.fsum(c * line.grams * m.held(line.stock.content) for c, m in claim.terms for line in lines)
        return dosage * held / free.judged.totals.accord_g

    return standing


def _where(key: LimitKey) -> Callable[[Fit], float]:
    """Return where a formula stands: cost, lines, gram of carrier."""

    def standing(free: Fit) -> float:
        totals = free.judged.totals
        if key.kind == "cost":
            return math.inf if totals.cost_per_kg is None else totals.cost_per_kg
        return float(len(free.judged.lines)) if key.kind == "lines" else totals.carrier_g

    return standing


def _of_grams(study: Study, state: LimitState) -> _Movable | None:
    """Return a limit on undeclared mass, on dilutions, on a material's grams, or on what is left of a bottle."""
    key = state.key

    def movable(at: Changed, free: Callable[[], Study], end: Callable[[Fit], float], whole: bool = False) -> _Movable:
        return _Movable(key.kind, key.subject, state.label, state.unit, state.limit, at, free, end, whole)

    if key.kind == "undeclared":
        at: Changed = lambda share: with_keys(study, "limits", undeclared=min(share, 1.0))  # noqa: E731
        free = lambda: with_keys(study, "limits", undeclared=None)  # noqa: E731
        return movable(at, free, lambda f: f.judged.totals.undeclared_g / f.judged.totals.accord_g)
    if key.kind == "dilutions":
        at = lambda most: with_keys(study, "dilutions", most=int(most))  # noqa: E731
        free = lambda: with_keys(study, "dilutions", most=None)  # noqa: E731
        return movable(at, free, lambda f: float(sum(x.stock.recipe is not None for x in f.judged.lines)), True)
    if key.kind in {"amount at least", "amount at most"}:
        return _of_amount(study, state)
    if key.kind == "on hand":
        stock = next(bottle.key for bottle in study.settled.bottles if bottle.key.subject == key.subject)
        at = lambda grams: with_bottle_cells(study, stock, stock_g=grams)  # noqa: E731
        free = lambda: with_bottle_cells(study, stock, stock_g=None)  # noqa: E731
        return movable(at, free, lambda f: _taken(f, stock))
    return None


def _of_amount(study: Study, state: LimitState) -> _Movable:
    material = state.key.subject[0]
    amount = next(amount for amount in study.amounts if amount.material == material)
    least = state.key.kind == "amount at least"
    most = None if math.isinf(amount.most_g) or amount.least_g == amount.most_g else amount.most_g

    def at(grams: float) -> Study:
        if least:
            return with_amount(study, material, at_least_g=grams or None, at_most_g=most)
        return with_amount(study, material, at_least_g=amount.least_g or None, at_most_g=grams)

    def neat(free: Fit) -> float:
        poured = (line for line in free.judged.lines if line.stock.key.material == material)
        return math.fsum(line.grams * line.stock.key.strength for line in poured)

    free = lambda: with_amount(study, material)  # noqa: E731
    return _Movable(state.key.kind, state.key.subject, state.label, state.unit, state.limit, at, free, neat)


def _taken(found: Fit, bottle: StockKey) -> float:
    """Return the grams that a formula takes from a bottle, those of its dilutions among them."""
    return math.fsum(
        line.grams * (1.0 if line.stock.recipe is None else line.stock.recipe.source_share)
        for line in found.judged.lines
        if (line.stock.key if line.stock.recipe is None else line.stock.recipe.source) == bottle
    )
