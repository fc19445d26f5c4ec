"""What can be moved of a study that a formula stands at: each limit, then batch, dosage and balance."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from reaccord.answer.fit import Fit
from reaccord.answer.limits_held import LimitState
from reaccord.domain.study import Study
from reaccord.questions.axis import Axis, Carrier, Cost, Lines, Restricted
from reaccord.study.changed import with_amount, with_bottle_cells, with_keys, with_settings

SMALLER = 0.1
"""Times the batch, or the dosage: as far as they are taken down."""
COUNTED = frozenset({"lines", "dilutions"})

Changed = Callable[[float | None], Study]
"""The study with a limit elsewhere; None: without it."""


@dataclass(frozen=True)
class Movable:
    """A limit that can be moved from `now`; `end` is as far as it can matter, None: where the formula without it is."""

    kind: str
    subject: tuple[str, ...]
    label: str
    unit: str
    now: float
    at: Changed
    end: float | None = None

    @property
    def key(self) -> tuple[str, tuple[str, ...]]:
        """That of the limit; of batch, dosage and balance no limit has it."""
        return self.kind, self.subject

    @property
    def whole(self) -> bool:
        """Whether it is counted."""
        return self.kind in COUNTED


def movables(found: Fit) -> Iterator[Movable]:
    """Yield what can be moved; batch and dosage where a bottle, or a rule, is at its limit."""
    study = found.study
    bound = [state for state in found.judged.limits if state.binding]
    for state in bound:
        at = _changed(study, state)
        if at is not None:
            yield Movable(*state.key, state.label, state.unit, state.limit, at)
    kinds = {state.key.kind for state in bound}
    batch, dosage = study.settings.batch.accord_g, study.settings.limits.dosage
    if "on hand" in kinds:
        yield _down("batch", "g", batch, lambda grams: with_keys(study, "batch", accord_g=grams))
    if "restricted" in kinds and dosage is not None:
        yield _down("dosage", "share", dosage, lambda share: with_keys(study, "limits", dosage=share))
    if study.settings.balance is not None:
        least = min((stock.minimum_g for stock in study.stocks if stock.minimum_g > 0), default=0.0)
        none = replace(study.settings, balance=None)
        label = "smallest weighable mass"
        yield Movable("balance", (), label, "g", least, lambda _: with_settings(study, none), least)


def _down(label: str, unit: str, now: float, at: Changed) -> Movable:
    """Return what cannot be left out, only made smaller."""
    least = SMALLER * now
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
