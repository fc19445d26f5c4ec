"""What can be moved of a study that a formula stands at: each limit, then batch, dosage and balance."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from reaccord.answer.amounts import by_stock
from reaccord.answer.fitted import Fit
from reaccord.answer.judge import judge
from reaccord.answer.limits_held import LimitState
from reaccord.answer.why.holding import LetGo
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.settings import BalanceSettings
from reaccord.domain.study import Study
from reaccord.domain.three_figures import three_figures
from reaccord.questions.axis import Axis, Carrier, Cost, Lines, Restricted
from reaccord.study.changed import with_amount, with_bottle_cells, with_keys, with_settings

SMALLER = 0.1
"""Times the batch, the dosage, or what the balance reads: as far as they are taken down."""
COUNTED = frozenset({"lines", "dilutions"})

Changed = Callable[[float | None], Study]
"""The study with a limit elsewhere; None: without it, or at its end."""


@dataclass(frozen=True)
class Movable:
    """A limit that can be moved from `now`; what cannot be left out has an `end`, as far as it is moved.

    `rounds`: it is the balance, which is not moved a little, and which also costs what rounding does.
    """

    kind: str
    subject: tuple[str, ...]
    label: str
    unit: str
    now: float
    at: Changed
    end: float | None = None
    rounds: bool = False

    @property
    def key(self) -> tuple[str, tuple[str, ...]]:
        """That of the limit; of batch, dosage and balance no limit has it."""
        return self.kind, self.subject

    @property
    def whole(self) -> bool:
        """Whether it is counted."""
        return self.kind in COUNTED


def movables(found: Fit, solved: Mapping[LimitKey, LetGo]) -> Iterator[Movable]:
    """Yield what can be moved; batch and dosage where a bottle, or a rule, is at its limit."""
    study = found.study
    bound = [state for state in found.judged.limits if state.binding]
    for state in bound:
        at = _changed(study, state)
        if at is not None:
            yield Movable(*state.key, state.label, state.unit, state.limit, at)
    lots = [state for state in bound if state.key.kind == "on hand"]
    batch, dosage, balance = study.settings.batch.accord_g, study.settings.limits.dosage, study.settings.balance
    if lots:
        least = batch * _suffice(study, lots, solved)
        yield _down("batch", "g", (batch, least), lambda grams: with_keys(study, "batch", accord_g=grams))
    if dosage is not None and any(state.key.kind == "restricted" for state in bound):
        ends = dosage, SMALLER * dosage
        yield _down("dosage", "share", ends, lambda share: with_keys(study, "limits", dosage=share))
    if balance is not None:
        reads = balance.readability_g
        finer = replace(study.settings, balance=_finer(balance))
        at = lambda _: with_settings(study, finer)  # noqa: E731
        yield Movable("balance", (), "balance", "g", reads, at, _decimal(SMALLER * reads), rounds=True)


def _suffice(study: Study, lots: list[LimitState], solved: Mapping[LimitKey, LetGo]) -> float:
    """Return the part of the batch for which each lot lasts that is used up: by the formula with more of that lot."""
    parts = []
    for lot in lots:
        free = solved.get(lot.key)
        if free is not None and free.amounts is not None:
            states = judge(study, by_stock(study.stocks, free.amounts)).limits
            parts += [lot.limit / state.value for state in states if state.key == lot.key and state.value > lot.limit]
    return max(min(parts, default=SMALLER), SMALLER)


def _finer(balance: BalanceSettings) -> BalanceSettings:
    """Return a balance whose every gram is a tenth."""
    least, repeats = balance.minimum_g, balance.repeatability_g
    return replace(
        balance,
        readability_g=_decimal(SMALLER * balance.readability_g),
        minimum_g=None if least is None else _decimal(SMALLER * least),
        repeatability_g=None if repeats is None else _decimal(SMALLER * repeats),
    )


def _decimal(grams: float) -> float:
    """Return grams as a person would write them, without the noise of floats."""
    return float(f"{grams:.12g}")


def _down(label: str, unit: str, ends: tuple[float, float], at: Changed) -> Movable:
    """Return what cannot be left out, only made smaller."""
    now, least = ends[0], float(three_figures(ends[1], up=False))
    return Movable(label, (), label, unit, now, lambda to: at(least if to is None else to), least)


def _changed(study: Study, state: LimitState) -> Changed | None:
    """Return how to move a limit; None of what each bottle asks for itself."""
    kind, subject = state.key
    axis: Axis | None = {"cost": Cost(), "lines": Lines(), "carrier": Carrier()}.get(kind)
    if kind == "restricted":
        axis = next((Restricted(claim) for claim in study.claims() if claim.key == state.key), None)
    if axis is not None:
        return lambda limit: axis.at(study, limit)
    if kind == "undeclared":
        return lambda share: with_keys(study, "limits", undeclared=None if share is None else min(share, 1.0))
    if kind == "dilutions":
        return lambda most: with_keys(study, "dilutions", most=None if most is None else int(most))
    if kind == "on hand":
        bottle = next(bottle.key for bottle in study.settled.bottles if bottle.key.subject == subject)
        return lambda grams: with_bottle_cells(study, bottle, stock_g=grams)
    if kind in {"amount at least", "amount at most"}:
        return _amount(study, state)
    return None


def _amount(study: Study, state: LimitState) -> Changed:
    material = state.key.subject[0]
    amount = next(amount for amount in study.amounts if amount.material == material)
    least, most = amount.least_g or None, None if math.isinf(amount.most_g) else amount.most_g

    def at(grams: float | None) -> Study:
        if state.key.kind == "amount at least":
            return with_amount(study, material, at_least_g=grams or None, at_most_g=most)
        return with_amount(study, material, at_least_g=least, at_most_g=grams)

    return at
