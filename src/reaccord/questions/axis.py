"""What closeness is set against: one limit of a study, moved up and down or taken away."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from typing import ClassVar, Literal

from reaccord.answer.judge import Judgement, judge
from reaccord.domain.limits import RuleClaim
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import Findings, UsageError
from reaccord.study.changed import with_keys, with_rule
from reaccord.study.prices import for_want_of

Unit = Literal["per kg", "lines", "g", "share", "ratio"]


class Axis(ABC):
    """One quantity that a study limits or could limit; never negative.

    `key` names it in JSON, `label` to people, `unit` as in a limit's state; `whole`: it is counted.
    """

    name: str
    key: str
    label: str
    unit: Unit
    whole: ClassVar[bool] = False

    @abstractmethod
    def own(self, study: Study) -> float | None:
        """Return the study's own ceiling, None where it sets none."""

    @abstractmethod
    def at(self, study: Study, ceiling: float | None) -> Study:
        """Return the study with this ceiling in place of its own; None: without any."""

    @abstractmethod
    def of(self, judged: Judgement) -> float:
        """Return the quantity of a formula judged by the study itself."""

    def quantity(self, study: Study, amounts: Mapping[StockKey, float]) -> float:
        """Return the quantity of a formula, gram by stock."""
        return self.of(judge(study, amounts))


class Cost(Axis):
    """Cost per kg of accord."""

    name, key, label, unit = "cost", "cost_per_kg", "cost per kg", "per kg"

    def own(self, study: Study) -> float | None:
        """Return `limits.cost_per_kg`."""
        return study.settings.limits.cost_per_kg

    def at(self, study: Study, ceiling: float | None) -> Study:
        """Return the study at another cost limit."""
        return with_keys(study, "limits", cost_per_kg=ceiling)

    def of(self, judged: Judgement) -> float:
        """Return the cost per kg."""
        known = judged.totals.cost_per_kg
        assert known is not None, "every bottle has a price where cost is an axis"
        return known


class Lines(Axis):
    """Stocks used."""

    name, key, label, unit = "lines", "lines", "lines", "lines"
    whole = True

    def own(self, study: Study) -> float | None:
        """Return `limits.lines`."""
        return study.settings.limits.lines

    def at(self, study: Study, ceiling: float | None) -> Study:
        """Return the study with another number of lines."""
        return with_keys(study, "limits", lines=None if ceiling is None else int(ceiling))

    def of(self, judged: Judgement) -> float:
        """Return the number of lines."""
        return float(len(judged.lines))


class Carrier(Axis):
    """Gram of carrier in the batch."""

    name, key, label, unit = "carrier", "carrier_g", "carrier", "g"

    def own(self, study: Study) -> float | None:
        """Return `batch.carrier_max_g`."""
        return study.settings.batch.carrier_max_g

    def at(self, study: Study, ceiling: float | None) -> Study:
        """Return the study with another carrier limit."""
        return with_keys(study, "batch", carrier_max_g=ceiling)

    def of(self, judged: Judgement) -> float:
        """Return gram of carrier."""
        return judged.totals.carrier_g


class Restricted(Axis):
    """What one claim of a rule limits: a share of the finished product, or the sum of a ratio."""

    def __init__(self, claim: RuleClaim) -> None:
        self.name = self.label = claim.label
        self.key = self.unit = claim.unit
        self._claim = claim

    def own(self, study: Study) -> float | None:
        """Return what the rule allows."""
        del study
        return self._claim.most

    def at(self, study: Study, ceiling: float | None) -> Study:
        """Return the study with another limit in this claim; the rule's other claims stay."""
        return with_rule(study, self._claim.key, ceiling)

    def of(self, judged: Judgement) -> float:
        """Return where the formula stands in this claim."""
        return next(state.value for state in judged.limits if state.key == self._claim.key)


def axis_of(study: Study, name: str) -> Axis:
    """Return the axis that `--against` names: cost, lines, carrier, or a limit on restricted substances.

    Raises
    ------
    UsageError
        If nothing, or more than one limit, is called so.
    InvalidInput
        If it is cost and a bottle has no price.
    """
    wanted = name.strip().casefold()
    axes: list[tuple[str, str, Axis]] = [(axis.name, "", axis) for axis in (Cost(), Lines(), Carrier())]
    axes += [(claim.label, ", ".join(filter(None, claim.key.subject)), Restricted(claim)) for claim in study.claims()]
    found = [(whole, axis) for _, whole, axis in axes if whole and whole.casefold() == wanted]
    found = found or [(whole, axis) for word, whole, axis in axes if word.casefold() == wanted]
    if not found:
        known = ", ".join(dict.fromkeys(word for word, _, _ in axes))
        raise UsageError(f'--against: nothing is drawn against "{name}". It can be: {known}.')
    if len(found) > 1:
        which = " or ".join(f'"{whole}"' for whole, _ in found)
        raise UsageError(f'--against: {len(found)} limits are called "{name}". Which is it: {which}?')
    axis = found[0][1]
    if isinstance(axis, Cost):
        all_priced(study)
    return axis


def all_priced(study: Study) -> None:
    """Raise `InvalidInput` if a bottle that may be poured has no price: cost would leave it out."""
    findings, poured = Findings(), {stock.key: stock for stock in study.stocks}
    for bottle in study.settled.bottles:
        stock = poured.get(bottle.key)
        if stock is not None and stock.price_per_g is None:
            findings.error(
                "blank",
                f"blank, but cost is minimised: what does {stock.label} cost per kg?"
                + for_want_of(bottle.price.lacking),
                bottle.line.at.at("price_per_kg"),
            )
    findings.raise_errors()
